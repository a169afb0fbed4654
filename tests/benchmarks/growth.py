"""Growth of models and `results` with the number of readings: DuckDB on 1 and 2 threads, Spark on 1 and 2 workers.

    python tests/benchmarks/growth.py CLINIC WORK [--sites 1 3 11] [--without-spark]

CLINIC: a loaded clinic folder; it is pooled once for every site of a group, under another name each time. WORK: a
folder on a disk with room. Spark runs standalone, its workers with one core and 2 GB each, on this machine; its runs
include the start of driver and executors. Wall and processor seconds, and the memory of all processes of a run
together at its peak; processor seconds hold where the machine is shared.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

GB = 1024**3
CONTESTANTS = (("DuckDB", 1), ("DuckDB", 2), ("Spark", 1), ("Spark", 2))


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("clinic", type=Path)
    asked.add_argument("work", type=Path)
    asked.add_argument("--sites", type=int, nargs="+", default=[1, 3, 11])
    asked.add_argument("--without-spark", action="store_true")
    asked = asked.parse_args()
    found = []
    print("sites  M readings  pool MB  engine   cores   wall s    cpu s  peak GB  kept MB  to DuckDB 1")
    for sites in asked.sites:
        pooled = asked.work / f"pool_{sites}"
        readings = pool_of(asked.clinic, pooled, sites) / 1e6
        for engine, cores in CONTESTANTS:
            if engine == "Spark" and asked.without_spark:
                continue
            kept = asked.work / "kept"
            shutil.rmtree(kept, ignore_errors=True)
            kept.mkdir(parents=True)
            run = measured([sys.executable, __file__, "--run", engine, cores, pooled, kept, asked.clinic], cores)
            found.append({"sites": sites, "readings": readings, "engine": engine, "cores": cores, **run})
            base = next(one for one in found if one["sites"] == sites)
            print(f"{sites:5}  {readings:10.2f}  {size(pooled) / 1e6:7.1f}  {engine:7} {cores:6} {run['wall']:8.1f} "
                  f"{run['cpu']:8.1f} {run['peak']:8.2f} {size(kept) / 1e6:8.1f} {run['cpu'] / base['cpu']:12.2f}",
                  flush=True)  # fmt: skip
    lines(found)
    (asked.work / "growth.json").write_text(json.dumps(found, indent=1), encoding="utf-8")


def lines(found: list[dict]) -> None:
    """A straight line a contestant: seconds = fixed + slope x million readings."""
    for engine, cores in CONTESTANTS:
        own = [one for one in found if (one["engine"], one["cores"]) == (engine, cores)]
        if len({one["sites"] for one in own}) > 1:
            for what, unit in (("wall", "s"), ("cpu", "s"), ("peak", "GB")):
                slope, fixed = np.polyfit([one["readings"] for one in own], [one[what] for one in own], 1)
                print(f"{engine} {cores}: {what} = {fixed:.2f} {unit} + {slope:.3f} {unit} x million readings")


def pool_of(clinic: Path, pooled: Path, sites: int) -> int:
    """Pools the clinic under as many names; returns the readings in the pool."""
    import duckdb

    from pipeline import database, models, settings
    from pipeline.engines.pool import pool
    from pipeline.intake.identity import key_of

    chosen = settings.read(clinic / settings.FILE)
    pooled.parent.mkdir(parents=True, exist_ok=True)
    if not pooled.exists():
        own = pooled.with_suffix(".duckdb")
        shutil.copy(clinic / database.FILE, own)
        with database.connect(own) as db:
            models.prepare(db, chosen)
            for number in range(sites):
                name = f"site_{number:03d}"
                db.execute("UPDATE cases SET site = ?", [name])
                pool(db, replace(chosen, name=name), key_of(clinic), pooled)
        own.unlink()
    counted = duckdb.sql(f"SELECT count(*) FROM read_parquet('{pooled}/vitals/*/*/*.parquet')").fetchall()
    return counted[0][0]


def run(engine: str, cores: str, pooled: str, kept: str, clinic: str) -> None:
    """One contestant, in a process of its own."""
    from pipeline import database, settings
    from pipeline.engines import one_machine, spark

    chosen = settings.read(Path(clinic) / settings.FILE)
    with database.connect(Path(kept) / "results.duckdb") as db:
        if engine == "DuckDB":
            db.execute(f"SET threads = {cores}")
            one_machine.results(db, Path(pooled), chosen)
        else:
            with spark.session(os.environ["GROWTH_MASTER"]) as session:
                spark.results(session, db, Path(pooled), Path(kept) / "models", chosen)


def measured(command: list, cores: int) -> dict:
    """Wall and processor seconds, peak memory of the command, its children and (for Spark) the cluster's."""
    command = [str(word) for word in command]
    cluster = start_cluster(cores, Path(command[-2]).with_name("workers")) if "Spark" in command else []
    try:
        before = {pid: cpu for root in cluster for pid, (cpu, _) in family(root).items()}
        began = time.monotonic()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        seen: dict[int, float] = {}
        peak = 0.0
        while process.poll() is None:
            now: dict[int, tuple] = {}
            for root in (process.pid, *cluster):
                now |= family(root)
            seen |= {pid: cpu for pid, (cpu, _) in now.items()}
            peak = max(peak, sum(memory for _, memory in now.values()))
            time.sleep(0.2)
        if process.returncode:
            raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}")
        cpu = sum(seconds - before.get(pid, 0) for pid, seconds in seen.items())
        return {"wall": time.monotonic() - began, "cpu": cpu, "peak": peak / GB}
    finally:
        for pid in reversed(cluster):
            os.kill(pid, 15)


def family(root: int) -> dict[int, tuple[float, int]]:
    """Process number -> (processor seconds so far, resident bytes) of a process and all below it."""
    ticks, page = os.sysconf("SC_CLK_TCK"), os.sysconf("SC_PAGE_SIZE")
    found, waiting = {}, [root]
    while waiting:
        pid = waiting.pop()
        try:
            state = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
            for task in Path(f"/proc/{pid}/task").iterdir():
                waiting += map(int, (task / "children").read_text(encoding="utf-8").split())
        except (FileNotFoundError, ProcessLookupError):
            continue
        found[pid] = ((int(state[11]) + int(state[12])) / ticks, int(state[21]) * page)
    return found


def start_cluster(workers: int, work: Path) -> list[int]:
    """A master and its workers, one core and 2 GB each; process numbers."""
    import socket

    import pyspark

    home = Path(pyspark.__file__).parent
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    os.environ |= {"SPARK_HOME": str(home), "SPARK_LOCAL_IP": "127.0.0.1", "GROWTH_MASTER": f"spark://127.0.0.1:{port}",
                   "SPARK_WORKER_DIR": str(work),
                   "PYSPARK_SUBMIT_ARGS": "--conf spark.executor.memory=2g pyspark-shell"}  # fmt: skip
    kind = "org.apache.spark.deploy."
    commands = [[kind + "master.Master", "--host", "127.0.0.1", "--port", port, "--webui-port", 0]]
    commands += [[kind + "worker.Worker", "--cores", 1, "--memory", "2g", "--host", "127.0.0.1", "--webui-port", 0,
                  os.environ["GROWTH_MASTER"]]] * workers  # fmt: skip
    started = []
    for words in commands:
        process = subprocess.Popen([str(home / "bin" / "spark-class"), *map(str, words)],
                                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip
        threading.Thread(target=process.wait, daemon=True).start()
        started.append(process.pid)
        time.sleep(6)
    return started


def size(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


if __name__ == "__main__":
    if sys.argv[1:2] == ["--run"]:
        run(*sys.argv[2:])
    else:
        main()
