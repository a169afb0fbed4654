"""What the rules read: thresholds, one row of them, and the shared steps of sql/checks/inputs/."""

import re

from pipeline import schema
from pipeline.database import tables
from pipeline.models.seeds import load_seeds
from pipeline.shipped import folder

# A shared step says in its header whether it is kept as a table (read by many rules) or as a view.
KEPT = re.compile(r"^-- Kept +(table|view)\b", re.MULTILINE)


def prepare(db, settings) -> None:
    """Seeds, the row of thresholds `val`, and every shared step, in the order of their file names."""
    for table in schema.TABLES.values():
        db.execute(schema.create_table(table))
    load_seeds(db, settings)
    values(db)
    files(db)
    for path in sorted((folder("sql") / "checks" / "inputs").glob("*.sql")):
        sql = path.read_text(encoding="utf-8")
        name = path.stem.split("_", 1)[1]
        db.execute(f"CREATE OR REPLACE TEMP {KEPT.search(sql).group(1)} {name} AS {sql}")


def values(db) -> None:
    """Table check_values: one row, one column a threshold of the seeds windows and check_values."""
    named = db.execute(
        "SELECT name, val FROM seed_windows UNION ALL SELECT name, val FROM seed_check_values ORDER BY name"
    ).fetchall()
    columns = ", ".join(f"CAST({'NULL' if val is None else repr(val)} AS DOUBLE) AS {name}" for name, val in named)
    db.execute(f"CREATE OR REPLACE TEMP TABLE check_values AS SELECT {columns}")


def files(db) -> None:
    """Table check_files: name of each loaded file and when it was loaded; empty before the first load."""
    loaded = (
        "files" if "files" in tables(db) else "(SELECT 0 AS file_id, '' AS name, now() AS loaded_at LIMIT 0) AS none"
    )
    db.execute(
        "CREATE OR REPLACE TEMP TABLE check_files AS SELECT CAST(file_id AS BIGINT) AS file_id, name, "
        f"CAST(floor(epoch(loaded_at)) AS BIGINT) AS loaded_s FROM {loaded}"
    )
