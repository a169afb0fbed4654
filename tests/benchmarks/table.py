"""The benchmark table: floors in plain DuckDB, rivals in pandas and polars, and ours, measured in one run.

    python tests/benchmarks/table.py [READINGS ...]    # 200000 2000000 20000000; 100000000 on request
        --folder DIR   keep the generated clinics there and use them again (100 million readings: 30 GB free)
        --rounds N     medians of N rounds (3; from 100 million readings on, 1)

Needs polars, which nothing else here does: pip install polars. Every step is a process of its own, the steps turn
about. Nothing is asserted about time. A busy machine spoils wall times: CPU is beside.
tests/functional/test_rivals.py shows on a small clinic that the rivals' rows equal ours; here they are compared again.
The rivals compute rows of `results` and nothing else: no accounts of what was loaded, no checks, no stock, no
training, no pages. So what they are compared with is printed twice: with the whole `rounds month`, as the targets
say, and with the part of it that makes the same rows.
"""

import argparse
import importlib.metadata
import importlib.util
import json
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from datetime import datetime
from pathlib import Path

HERE = Path(__file__).parent
SIZES = (200_000, 2_000_000, 20_000_000)
ONCE_FROM = 100_000_000
LOOK_S = 0.1
RIVALS = ("pandas", "polars")
TITLES = {
    "plain_read": "plain DuckDB: CSVs into tables, scanned once",
    "plain_sort": "plain DuckDB: readings scanned and sorted",
    "pandas": "pandas: CSVs to rows of results",
    "polars": "polars: CSVs to rows of results",
    "load": "ours: load with accounts",
    "results": "ours: models and results",
    "month": "ours: rounds month, everything",
    "month_in_1_gib": "ours: rounds month, memory_limit 1 GiB",
}


def main() -> int:
    """Prints the table; 1 if a step failed or a rival's rows are not ours."""
    asked = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    asked.add_argument("readings", nargs="*", type=int, default=SIZES)
    asked.add_argument("--folder", type=Path)
    asked.add_argument("--rounds", type=int, default=3)
    asked = asked.parse_args()
    if importlib.util.find_spec("polars") is None:
        print("polars is not installed; one of the rivals is written in it: pip install polars", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as made:
        folder = (asked.folder or Path(made)).resolve()
        print(about())
        return max(one_size(folder, readings, asked.rounds) for readings in asked.readings)


def about() -> str:
    """Commit, machine and versions."""
    version = {name: importlib.metadata.version(name) for name in ("anesthesia-rounds", "duckdb", "numpy", "pandas",
                                                                    "polars", "pyarrow")}  # fmt: skip
    commit, changed = (
        subprocess.run(["git", *words], cwd=HERE, capture_output=True, encoding="utf-8", check=False).stdout.strip()
        for words in (("rev-parse", "--short", "HEAD"), ("status", "--porcelain", "--untracked-files=no"))
    )
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / (1 << 30)
    return (
        f"{datetime.now():%Y-%m-%d %H:%M}, commit {commit or 'unknown'}{' with changes' if changed else ''}\n"
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, {memory:.1f} GiB, "
        f"load average {os.getloadavg()[0]:.1f}\n"
        f"Python {platform.python_version()}, " + ", ".join(f"{name} {number}" for name, number in version.items())
    )


def run(*command) -> dict:
    """Runs a Python command; wall, cpu [s] and peak [GiB] of its process and those it starts, answer: its last line
    as JSON. failed: its last line of complaint, where it did not end well.

    peak: the larger of the kernel's figure for one process and the sum over all of them, seen every LOOK_S seconds.
    This process stays small, for a child's peak begins with its parent's.
    """
    with tempfile.TemporaryFile("w+", encoding="utf-8") as out, tempfile.TemporaryFile("w+", encoding="utf-8") as err:
        began = time.perf_counter()
        process = subprocess.Popen([sys.executable, *map(str, command)], stdout=out, stderr=err, cwd=HERE)
        seen, ended = [0], threading.Event()
        watch = threading.Thread(target=look, args=(process.pid, seen, ended))
        watch.start()
        _, status, used = os.wait4(process.pid, 0)
        wall = time.perf_counter() - began
        ended.set()
        watch.join()
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        err.seek(0)
        said, complaint = out.read().splitlines(), err.read().splitlines()
    peak = max(used.ru_maxrss, seen[0]) / (1 << 20)
    done = {"wall": wall, "cpu": used.ru_utime + used.ru_stime, "peak": peak, "answer": {}}
    if process.returncode:
        done["failed"] = f"exit status {process.returncode}: {complaint[-1] if complaint else 'no word'}"
    elif said and said[-1].startswith("{"):
        done["answer"] = json.loads(said[-1])
    return done


def look(pid: int, seen: list[int], ended: threading.Event) -> None:
    """Keeps the largest resident size [KiB] of a process with its children in seen[0], on Linux."""
    while not ended.wait(LOOK_S):
        seen[0] = max(seen[0], resident(pid))


def resident(pid: int) -> int:
    try:
        status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="utf-8").split()
    except OSError:
        return 0
    own = next((int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")), 0)
    return own + sum(resident(int(child)) for child in children)


def step(name: str, clinic: Path, out: Path) -> dict:
    return run(HERE / "table_steps.py", name, clinic, out)


def ours(done: dict, work: Path) -> dict:
    """A run of the command; where it failed, with the last line of its log."""
    log = work / "rounds.log"
    if "failed" in done and log.exists():
        done["failed"] += f"; {log.read_text(encoding='utf-8').splitlines()[-1]}"
    return done


def must(done: dict) -> dict:
    """The answer of a step that nothing can go on without."""
    if "failed" in done:
        raise SystemExit(done["failed"])
    return done["answer"]


def generated(folder: Path, readings: int) -> Path:
    """The clinic of so many readings, made unless it is there."""
    clinic = folder / str(readings)
    if not (clinic / "made.json").exists():
        must(step("make", clinic, Path(str(readings))))
    return clinic


def one_size(folder: Path, readings: int, rounds: int) -> int:
    """Measures and prints one clinic."""
    clinic, work = generated(folder, readings), folder / f"work-{readings}"
    told = json.loads((clinic / "made.json").read_text(encoding="utf-8"))
    rounds = 1 if readings >= ONCE_FROM else rounds
    sites = "1 site" if told["sites"] == 1 else f"{told['sites']} sites"
    print(
        f"\n{told['readings']:,} readings of {told['cases']:,} cases, {sites} in 24 months, "
        f"{told['bytes'] / 1e6:,.0f} MB of CSV; rounds: {rounds}",
        flush=True,
    )
    measured, compared = {name: [] for name in TITLES}, {}
    for number in range(rounds):
        if number == 0:
            must(step("fresh", clinic, work))
            measured["month_in_1_gib"].append(ours(step("month_in_1_gib", work, work), work))
        must(step("fresh", clinic, work))
        measured["plain_read"].append(step("plain_read", clinic, work / "plain.duckdb"))
        measured["plain_sort"].append(step("plain_sort", clinic, work / "plain.duckdb"))
        (work / "plain.duckdb").unlink(missing_ok=True)
        for name in ("load", "results"):
            measured[name].append(step(name, work, work))
        for rival in RIVALS:
            out = work / f"{rival}.parquet"
            measured[rival].append(run(HERE / f"rival_{rival}.py", clinic, out))
            if number == 0 and out.exists():
                compared[rival] = step("compare", work, out)["answer"]
        must(step("fresh", clinic, work))
        measured["month"].append(ours(run("-m", "pipeline", "month", "--clinic", work, "--json"), work))
    show(measured, compared)
    failed = any("failed" in one for some in measured.values() for one in some)
    if not failed:
        shutil.rmtree(work)
    return int(failed or any(found.get("differences", True) for found in compared.values()))


def show(measured: dict, compared: dict) -> None:
    """The table of one size and its targets."""
    of = {name: middle(some) for name, some in measured.items()}
    print(f"{'':46}{'wall s':>9}{'CPU s':>9}{'work s':>9}{'its CPU':>9}{'peak GiB':>10}   (work: without imports)")
    for name, title in TITLES.items():
        if of[name] is None:
            print(f"{title:46}  {next(one['failed'] for one in measured[name] if 'failed' in one)}")
        else:
            wall, cpu, work, work_cpu, peak = of[name].values()
            print(f"{title:46}{wall:9.2f}{cpu:9.2f}{work:9.2f}{work_cpu:9.2f}{peak:10.2f}")
    for rival, found in compared.items():
        left = ", ".join(f"{count:,} of {method}" for method, count in found["left"])
        equal = f"{len(found['differences'])} or more differ" if found["differences"] else "all equal to ours"
        print(f"{rival} computed {found['theirs']:,} of {found['ours']:,} rows of results, {equal}; not: {left}")
    for line in targets(of):
        print(line)


def middle(some: list[dict]) -> dict | None:
    """Medians, of the process and of its work without imports where it told them; None where a round failed."""
    if any("failed" in one for one in some):
        return None
    told = [one | {"work": one["wall"], "work_cpu": one["cpu"]} | one["answer"] for one in some]
    return {key: statistics.median(one[key] for one in told) for key in ("wall", "cpu", "work", "work_cpu", "peak")}


def targets(of: dict) -> list[str]:
    """A line a target: the ratio of wall times (of CPU beside), and whether it is met. Floors without imports."""
    month, same = of["month"], None
    if of["load"] and of["results"]:
        same = {key: of["load"][key] + of["results"][key] for key in ("wall", "cpu")}
    work, whole = ("work", "work_cpu"), ("wall", "cpu")
    lines = [
        target("load at most 2.0 x plain DuckDB", of["load"], of["plain_read"], 2.0, work),
        target("models and results at most 3 x one scan and sort", of["results"], of["plain_sort"], 3.0, work),
        target("rounds month at most 0.1 x pandas", month, of["pandas"], 0.1, whole),
        target("rounds month at most 1 x polars", month, of["polars"], 1.0, whole),
        target("  of it load, models and results (the same rows), to pandas", same, of["pandas"], 0.1, whole),
        target("  of it load, models and results (the same rows), to polars", same, of["polars"], 1.0, whole),
    ]
    peaks = [of[name]["peak"] for name in ("load", "results", "month", "month_in_1_gib") if of[name]]
    state = "missed, a step did not finish"
    if len(peaks) == 4:
        state = f"{max(peaks):.2f} GiB, {'met' if max(peaks) < 4 else 'missed'}"
    lines.append(f"peak memory under 4 GiB: {state}")
    lines.append(f"completes with memory_limit 1 GiB: {'met' if of['month_in_1_gib'] else 'missed'}")
    return lines


def target(title: str, ours: dict | None, theirs: dict | None, most: float, keys: tuple[str, str]) -> str:
    if ours is None or theirs is None:
        return f"{title}: missed, a step did not finish"
    wall, cpu = (ours[key] / theirs[key] for key in keys)
    state = "met" if wall <= most else f"missed by a factor of {wall / most:.2f}"
    return f"{title}: {wall:.2f} x (CPU {cpu:.2f} x), {state}"


if __name__ == "__main__":
    sys.exit(main())
