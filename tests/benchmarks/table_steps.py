"""The steps of the benchmark table, each run by table.py in a process of its own.

    python tests/benchmarks/table_steps.py STEP CLINIC OUT

Prints one line of JSON; "work" and "work_cpu" are seconds of it without imports. OUT: what it writes.
"""

import json
import os
import shutil
import sys
import time
from contextlib import contextmanager
from pathlib import Path

SHOWN = 20


@contextmanager
def timed():
    """Prints wall and CPU seconds of the block."""
    wall, cpu = time.perf_counter(), time.process_time()
    yield
    print(json.dumps({"work": time.perf_counter() - wall, "work_cpu": time.process_time() - cpu}))


def make(clinic: Path, out: Path) -> None:
    """A clinic charted without faults in CLINIC; OUT is its number of readings. From 2 million readings a site on,
    more sites: 24 months of hospitals with 4,100 anesthetics a year."""
    from pipeline.simulate import write_clinic

    readings = int(out.name)
    made = write_clinic(clinic, cases=round(readings / 246), sites=max(1, readings // 2_000_000), faults=False)
    told = {"cases": made["cases"], "readings": made["readings"], "sites": max(1, readings // 2_000_000)}
    told["bytes"] = sum(path.stat().st_size for path in (clinic / "exports").iterdir())
    (clinic / "made.json").write_text(json.dumps(told), encoding="utf-8")


def fresh(clinic: Path, out: Path) -> None:
    """OUT as a clinic folder without a database, its exports hard links to those of CLINIC."""
    shutil.rmtree(out, ignore_errors=True)
    (out / "exports").mkdir(parents=True)
    for path in (clinic / "exports").iterdir():
        os.link(path, out / "exports" / path.name)
    for name in ("clinic.toml", "actions.csv"):
        shutil.copyfile(clinic / name, out / name)


def plain_read(clinic: Path, out: Path) -> None:
    """Floor: plain DuckDB reads every CSV, types declared, into one table a record table, and scans each once."""
    import duckdb

    from pipeline import schema

    out.unlink(missing_ok=True)
    with duckdb.connect(str(out)) as db:
        db.execute("SET enable_progress_bar = false")
        with timed():
            for table in schema.TABLES.values():
                paths = sorted(str(path) for path in (clinic / "exports").glob(f"{table.name}*.csv"))
                header = Path(paths[0]).read_text(encoding="utf-8").split("\n", 1)[0].split(",")
                kinds = {column.name: schema.SQL_TYPES[column.kind] for column in table.columns}
                columns = {name: kinds[name] for name in header}
                db.execute(
                    f"CREATE TABLE {table.name} AS FROM read_csv({paths}, header = true, auto_detect = false, "
                    f"delim = ',', quote = '\"', columns = {columns})"
                )
                db.execute(f"SELECT max(COLUMNS(*)) FROM {table.name}").fetchall()


def plain_sort(clinic: Path, out: Path) -> None:
    """Floor: plain DuckDB scans the readings of plain_read's file and writes them in order of case, parameter, time."""
    import duckdb

    with duckdb.connect(str(out)) as db:
        db.execute("SET enable_progress_bar = false")
        with timed():
            db.execute("CREATE OR REPLACE TABLE ordered AS FROM vitals ORDER BY case_id, parameter, taken_at")


def load(clinic: Path, out: Path) -> None:
    """Ours: every export into the clinic's database, with all accounts. CLINIC: a fresh folder."""
    from pipeline import database, intake, settings

    chosen = settings.read(clinic / settings.FILE)
    with database.connect(clinic / database.FILE) as db, timed():
        intake.load(db, chosen, clinic, None, None)


def results(clinic: Path, out: Path) -> None:
    """Ours: all models and results over what is loaded."""
    from pipeline import database, measures, models, settings

    chosen = settings.read(clinic / settings.FILE)
    with database.connect(clinic / database.FILE) as db, timed():
        models.prepare(db, chosen)
        models.build(db, chosen)
        measures.compute(db, chosen)


def month_in_1_gib(clinic: Path, out: Path) -> None:
    """Ours: `rounds month` in a fresh folder, every DuckDB connection of it held to 1 GiB."""
    from pipeline import cli, database

    settle = database.settle

    def settled(db) -> None:
        settle(db)
        db.execute("SET memory_limit = '1GiB'")

    database.settle = settled
    with timed():
        status = cli.main(["month", "--clinic", str(clinic), "--json"])
    sys.exit(status)


def compare(clinic: Path, out: Path) -> None:
    """How many rows of CLINIC's results OUT has, and up to SHOWN sentences on those that differ by more than 1e-9."""
    import duckdb

    cells = ("n", "numerator", "denominator", "value", "low", "high")
    differs = " OR ".join(
        f"(isnan(coalesce(theirs.{cell}::DOUBLE, 'nan')) <> (ours.{cell} IS NULL) "
        f"OR abs(ours.{cell} - theirs.{cell}) > 1e-9 * greatest(1, abs(ours.{cell})) + 1e-9)"
        for cell in cells
    )
    key = '(measure, period, "by", level)'
    with duckdb.connect() as db:
        db.execute(f"ATTACH '{clinic / 'rounds.duckdb'}' AS loaded (READ_ONLY)")
        db.execute(f"CREATE TABLE theirs AS FROM '{out}'")
        db.execute(f"CREATE TABLE ours AS SELECT * FROM loaded.results SEMI JOIN theirs USING {key}")
        total = db.execute("SELECT count(*) FROM loaded.results").fetchone()[0]
        same, theirs = (db.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in ("ours", "theirs"))
        said = [
            f"only theirs: {row}"
            for row in db.execute(
                f'SELECT measure, period, "by", level FROM theirs ANTI JOIN ours USING {key} LIMIT {SHOWN}'
            ).fetchall()
        ]
        said += [f"{row[:4]}: ours {row[4:10]}, theirs {row[10:]}" for row in db.execute(
            f"""SELECT ours.measure, ours.period, ours."by", ours.level, {", ".join(f"ours.{cell}" for cell in cells)},
                {", ".join(f"theirs.{cell}" for cell in cells)}
            FROM ours JOIN theirs USING {key} WHERE {differs} LIMIT {SHOWN}""").fetchall()]  # fmt: skip
        left = db.execute(f"""SELECT split_part(method, ';', 1), count(*) FROM loaded.results
            ANTI JOIN theirs USING {key} GROUP BY ALL ORDER BY 2 DESC""").fetchall()
    if theirs != same:
        said.append(f"{theirs:,} rows of theirs have {same:,} of ours")
    print(json.dumps({"ours": total, "theirs": theirs, "differences": said, "left": left}))


STEPS = (make, fresh, plain_read, plain_sort, load, results, month_in_1_gib, compare)

if __name__ == "__main__":
    {step.__name__: step for step in STEPS}[sys.argv[1]](Path(sys.argv[2]), Path(sys.argv[3]))
