"""What adding a month costs a clinic with ten years of records, beside the same month in an empty database.

    python tests/benchmarks/month_speed.py [CASES] [MONTHS]      # 30,000 cases in 120 months by default

Prints processor and wall seconds of each step in both situations, and their ratios; nothing is asserted.
"""

import sys
import tempfile
import time
from pathlib import Path

import duckdb

from pipeline import checks, database, intake, measures, models, settings
from pipeline.simulate import write_clinic

TABLES = ("cases", "case_people", "vitals", "drugs", "events", "equipment", "stock")


def split(exports: Path, before: Path, last: Path) -> str:
    """Writes the exports' rows of the last month to one folder, all others to the other; returns the month.

    A row of a case belongs to the month the case began, where it is known, any other to its own.
    """
    with duckdb.connect() as db:
        for table in TABLES:
            names = [str(path) for path in sorted(exports.glob(f"{table}_[0-9c]*.csv"))]
            db.execute(
                f"""CREATE TABLE {table} AS
                FROM read_csv($names, all_varchar = true, header = true, union_by_name = true,
                    auto_detect = true, delim = ',', quote = '"', escape = '"')""",
                {"names": names},
            )
        started = "coalesce(induction_at, intubation_at, vaporizer_on_at)"
        month = db.execute(f"SELECT max({started})[:7] FROM cases").fetchone()[0]
        db.execute(
            f"CREATE TABLE last_cases AS SELECT DISTINCT case_id FROM cases WHERE {started}[:7] = $m", {"m": month}
        )
        for table in TABLES:
            own = "equipment.at" if table == "equipment" else "stock.at"
            chosen = f"{own}[:7] = '{month}'" if table in ("equipment", "stock") else "case_id IN (FROM last_cases)"
            for folder, condition in ((last, chosen), (before, f"({chosen}) IS NOT TRUE")):
                folder.mkdir(parents=True, exist_ok=True)
                db.execute(f"COPY (FROM {table} WHERE {condition}) TO '{folder / table}_{folder.name}.csv' (HEADER)")
    return month


def run(clinic: Path, exports: Path) -> dict[str, tuple[float, float]]:
    """Loads a folder of exports into a clinic and computes; (processor, wall) seconds a step."""
    chosen = settings.read(clinic / settings.FILE)
    found = {}
    with database.connect(clinic / database.FILE) as db:
        for name, step in (
            ("load", lambda: intake.load(db, chosen, clinic, [exports], None)),
            ("prepare", lambda: models.prepare(db, chosen)),
            ("checks", lambda: checks.run(db, chosen, None)),
            ("models", lambda: models.build(db, chosen)),
            ("measures", lambda: measures.compute(db, chosen)),
        ):
            began = time.process_time(), time.perf_counter()
            step()
            found[name] = time.process_time() - began[0], time.perf_counter() - began[1]
    return found


def main(cases: int, months: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        made, full, empty = (Path(folder) / name for name in ("made", "full", "empty"))
        written = write_clinic(made, cases=cases, months=months)
        month = split(made / "exports", made / "before", made / "last")
        for clinic in (full, empty):
            clinic.mkdir()
            (clinic / settings.FILE).write_bytes((made / settings.FILE).read_bytes())
        first = run(full, made / "before")
        added = run(full, made / "last")
        alone = run(empty, made / "last")
    print(f"{written['cases']:,} cases, {written['readings']:,} readings in {months} months; {month} split off")
    print(f"{'':10s} {'all before':>16s} {'month added':>16s} {'month alone':>16s}   ratio (processor, wall seconds)")
    total = {"all": [tuple(map(sum, zip(*steps.values(), strict=True))) for steps in (first, added, alone)]}
    for name, (old, new, only) in ({name: [first[name], added[name], alone[name]] for name in first} | total).items():
        cells = " ".join(f"{one[0]:7.2f} {one[1]:8.2f}" for one in (old, new, only))
        print(f"{name:10s} {cells}   {new[0] / only[0]:5.2f} {new[1] / only[1]:5.2f}")


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]] + [30_000, 120][len(sys.argv) - 1 :]
    main(*given)
