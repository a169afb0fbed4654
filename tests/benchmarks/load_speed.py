"""How long a load of long vitals takes, as a ratio to plain DuckDB reading the same CSV into a typed table.

    python tests/benchmarks/load_speed.py [ROWS] [ROUNDS] [FOLDER]

Both run in processes of their own, turn about, each into a new database file. The load keeps all
accounts: hash, line numbers, faults, keys, cases, clocks. Prints medians, the ratio, CPU seconds
and the largest memory. A time on a busy machine says little; the ratio holds better.
"""

import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PARAMETERS = (
    "heart_rate", "respiratory_rate", "etco2", "fico2", "spo2", "sap", "map", "dap", "temperature", "agent_et",
    "agent_insp", "vaporizer_setting", "o2_flow",
)  # fmt: skip
COLUMNS = "{'case_id': 'VARCHAR', 'taken_at': 'TIMESTAMP', 'parameter': 'VARCHAR', 'value': 'DOUBLE'}"


def write_exports(folder: Path, rows: int) -> None:
    """cases.csv and vitals.csv: 13 readings every 5 minutes, 31 times a case, cases overlapping in time."""
    import duckdb

    readings = 31 * len(PARAMETERS)
    with duckdb.connect() as db:
        db.execute("SET enable_progress_bar = false")
        db.execute(
            f"""COPY (
                SELECT printf('C%07d', i // {readings}) AS case_id,
                  strftime(TIMESTAMP '2024-01-01 08:00:00'
                    + to_minutes((5 * ((i % {readings}) // {len(PARAMETERS)}) + 25 * (i // {readings}))::BIGINT),
                    '%Y-%m-%d %H:%M:%S') AS taken_at,
                  {list(PARAMETERS)}[1 + i % {len(PARAMETERS)}] AS parameter,
                  CASE WHEN i % 13 IN (8, 9, 10, 12) THEN printf('%.1f', (310 + hash(i) % 80) / 10.0)
                       ELSE (40 + hash(i) % 60)::VARCHAR END AS value
                FROM range({rows}) AS t(i)
            ) TO '{folder / "vitals.csv"}' (HEADER)"""
        )
        db.execute(
            f"""COPY (SELECT printf('C%07d', i) AS case_id, 'dog' AS species, '2' AS asa_class
                FROM range({rows // readings + 1}) AS t(i)) TO '{folder / "cases.csv"}' (HEADER)"""
        )


def plain(folder: Path) -> None:
    """Plain DuckDB: the CSV into a table, types declared."""
    import duckdb

    with duckdb.connect(str(folder / "plain.duckdb")) as db:
        db.execute("SET enable_progress_bar = false")
        measure(
            lambda: db.execute(
                f"CREATE TABLE vitals AS SELECT * FROM read_csv('{folder / 'vitals.csv'}', auto_detect = false, "
                f"header = true, columns = {COLUMNS})"
            )
        )


def load(folder: Path) -> None:
    """The clinic's load of vitals.csv, its cases being there."""
    from pipeline import database, intake, settings

    chosen = settings.Settings(zone="Europe/Berlin")
    with database.connect(folder / "rounds.duckdb") as db:
        intake.load(db, chosen, folder, [folder / "cases.csv"])
        receipt = measure(lambda: intake.load(db, chosen, folder, [folder / "vitals.csv"]))
    account = receipt.files[0]
    assert account.read == account.new == account.lines, account


def measure(work):
    wall, cpu = time.perf_counter(), time.process_time()
    answer = work()
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 << 20)
    print(json.dumps({"wall": wall, "cpu": cpu, "peak": peak}))
    return answer


def main(rows: int = 2_000_000, rounds: int = 3, folder: str | None = None) -> None:
    with tempfile.TemporaryDirectory(dir=folder) as made:
        place = Path(made)
        write_exports(place, rows)
        print(f"{rows:,} rows, {(place / 'vitals.csv').stat().st_size / 1e6:.0f} MB")
        times = {"plain": [], "load": []}
        for _ in range(rounds):
            for name, found in times.items():
                for old in place.glob("*.duckdb*"):
                    old.unlink()
                done = subprocess.run(
                    [sys.executable, __file__, name, made], check=True, capture_output=True, encoding="utf-8"
                )
                found.append(json.loads(done.stdout.splitlines()[-1]))
        for name, found in times.items():
            wall, cpu, peak = (statistics.median(one[key] for one in found) for key in ("wall", "cpu", "peak"))
            print(f"{name:6} {wall:7.2f} s   {cpu:7.2f} s of CPU   peak {peak:.2f} GiB")
        for key in ("wall", "cpu"):
            ratios = [mine[key] / its[key] for mine, its in zip(times["load"], times["plain"], strict=True)]
            print(f"ratio {key}: median {statistics.median(ratios):.2f}, from {min(ratios):.2f} to {max(ratios):.2f}")


if __name__ == "__main__":
    if sys.argv[1:2] in (["plain"], ["load"]):
        {"plain": plain, "load": load}[sys.argv[1]](Path(sys.argv[2]))
    else:
        main(*map(int, sys.argv[1:3]), *sys.argv[3:4])
