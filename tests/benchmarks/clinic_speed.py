"""A canonical clinic, loaded and computed in one run, beside plain DuckDB reading the same CSVs into tables.

    python tests/benchmarks/clinic_speed.py [CASES]      # 8,200 cases are about 2 million readings

Prints seconds and the ratio to the floor measured in the same run; nothing is asserted.
"""

import resource
import sys
import tempfile
import time
from pathlib import Path

import duckdb

from pipeline import database, intake, measures, models, schema, settings
from pipeline.simulate import write_clinic


def floor(folder: Path) -> float:
    """Seconds in which plain DuckDB reads every CSV, types declared, into one table a record table."""
    began = time.perf_counter()
    with duckdb.connect() as db:
        db.execute("SET enable_progress_bar = false")
        for table in schema.TABLES.values():
            kinds = {"text": "VARCHAR", "code": "VARCHAR", "codes": "VARCHAR", "yes_no": "VARCHAR"}
            columns = {column.name: kinds.get(column.kind, schema.SQL_TYPES[column.kind]) for column in table.columns}
            for path in sorted(folder.glob(f"{table.name}*.csv")):
                db.execute(
                    f'CREATE TABLE "{path.stem}" AS FROM read_csv($path, header = true, auto_detect = false, '
                    f"delim = ',', quote = '\"', null_padding = true, ignore_errors = true, columns = {columns})",
                    {"path": str(path)},
                )
    return time.perf_counter() - began


def main(cases: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        clinic = Path(folder)
        written = write_clinic(clinic, cases=cases)
        plain = floor(clinic / "exports")
        chosen = settings.read(clinic / settings.FILE)
        with database.connect(clinic / database.FILE) as db:
            began = time.perf_counter()
            intake.load(db, chosen, clinic, None, None)
            loaded = time.perf_counter() - began
            models.prepare(db, chosen)
            models.build(db, chosen)
            built = time.perf_counter() - began - loaded
            measures.compute(db, chosen)
            computed = time.perf_counter() - began - loaded - built
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(f"{written['cases']:,} cases, {written['readings']:,} readings; peak memory {peak:,} MB")
    for name, seconds in (("plain DuckDB", plain), ("load", loaded), ("models", built), ("results", computed)):
        print(f"{name:14s} {seconds:7.2f} s  {seconds / plain:6.2f} x")
    print(f"{'all':14s} {loaded + built + computed:7.2f} s  {(loaded + built + computed) / plain:6.2f} x")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 8_200)
