"""What the rules read: thresholds, one row of them, and the shared steps of sql/checks/inputs/."""

import re

from pipeline import schema
from pipeline.database import tables
from pipeline.models.seeds import load_seeds
from pipeline.shipped import folder

# A shared step says in its header whether it is kept as a table (read by many rules), as a view, or as a macro with
# the names of what it is told.
KEPT = re.compile(r"^-- Kept +(table|view|macro) ?(\(.+\))?$", re.MULTILINE)


def prepare(db, settings) -> None:
    """Everything the rules read, where models.prepare did not write the seeds before."""
    seeds(db, settings)
    values(db)
    steps(db)


def seeds(db, settings) -> None:
    """Canonical tables that no file has filled yet, and the seed tables."""
    for table in schema.TABLES.values():
        db.execute(schema.create_table(table))
    load_seeds(db, settings)


def steps(db) -> None:
    """What the loads left, and every shared step in the order of the file names."""
    loads(db)
    db.execute(
        "CREATE OR REPLACE TEMP MACRO local_time(at_s, offset_s) AS "
        "strftime(make_timestamp((at_s + offset_s) * 1000000), '%Y-%m-%d %H:%M')"
    )
    for path in sorted((folder("sql") / "checks" / "inputs").glob("*.sql")):
        sql = path.read_text(encoding="utf-8")
        name = path.stem.split("_", 1)[1]
        kind, given = KEPT.search(sql).groups("")
        db.execute(f"CREATE OR REPLACE TEMP {kind} {name}{given} AS {'TABLE ' if kind == 'macro' else ''}{sql}")


def values(db) -> None:
    """Table check_values: one row, one column a threshold of the seeds windows and check_values."""
    named = db.execute(
        "SELECT name, val FROM seed_windows UNION ALL SELECT name, val FROM seed_check_values ORDER BY name"
    ).fetchall()
    columns = ", ".join(f"CAST({'NULL' if val is None else repr(val)} AS DOUBLE) AS {name}" for name, val in named)
    db.execute(f"CREATE OR REPLACE TEMP TABLE check_values AS SELECT {columns}")


# What the loads left of each file and of each row that waits: column, type.
FILES = {
    "file_id": "BIGINT", "name": "VARCHAR", "part": "VARCHAR", "loaded_at": "TIMESTAMP", "lines": "BIGINT",
    "rows_read": "BIGINT", "rows_new": "BIGINT", "rows_unchanged": "BIGINT", "rows_replaced": "BIGINT",
    "rows_quarantined": "BIGINT", "rows_set_aside": "BIGINT",
}  # fmt: skip
WHOLE_NAME = "name || coalesce(', sheet ' || nullif(part, ''), '')"  # a file's, with its sheet
QUARANTINE = {"file_id": "BIGINT", "row": "BIGINT", "table_name": "VARCHAR", "month_no": "BIGINT"}


def loads(db) -> None:
    """Tables check_files, with the sheet in the name and loaded_s, and check_quarantine; empty before a first load."""
    _copy(db, "files", FILES, f"* REPLACE ({WHOLE_NAME} AS name), CAST(floor(epoch(loaded_at)) AS BIGINT) AS loaded_s")
    _copy(db, "quarantine", QUARANTINE, "*")


def _copy(db, name: str, columns: dict[str, str], shown: str) -> None:
    source = name if name in tables(db) else "(SELECT NULL) AS none WHERE FALSE"
    there = {row[0] for row in db.execute(f"DESCRIBE SELECT * FROM {source}").fetchall()}
    picked = ", ".join(
        f"CAST({column if column in there else 'NULL'} AS {kind}) AS {column}" for column, kind in columns.items()
    )
    db.execute(f"CREATE OR REPLACE TEMP TABLE check_{name} AS SELECT {shown} FROM (SELECT {picked} FROM {source})")
