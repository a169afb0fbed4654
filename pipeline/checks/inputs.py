"""What the rules read: thresholds, one row of them, and the shared steps of sql/checks/inputs/."""

import re
from concurrent.futures import Future

from pipeline import schema
from pipeline.database import tables
from pipeline.lanes import Here
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


def steps(db, side=None) -> None:
    """What the loads left, and every shared step, each after those it reads. side: pipeline.lanes."""
    side = side or Here(db)
    side.submit(loads, side.shared).result()
    stands: dict[str, Future] = {}
    for path in sorted((folder("sql") / "checks" / "inputs").glob("*.sql")):
        sql = path.read_text(encoding="utf-8")
        name, words = path.stem.split("_", 1)[1], set(re.findall(r"\w+", sql))
        before = [made for other, made in stands.items() if other in words]
        stands[name] = side.submit(step, side.shared, name, sql, before)
    for made in stands.values():
        made.result()


def step(db, shared: str, name: str, sql: str, before: list[Future]) -> None:
    """One shared step, once those before it stand: they were begun earlier, so that none waits for ever."""
    for made in before:
        made.result()
    kind, given = KEPT.search(sql).groups("")
    db.execute(f"CREATE OR REPLACE {shared.format(kind, name)}{given} AS {'TABLE ' if kind == 'macro' else ''}{sql}")


def values(db, shared: str = Here.shared) -> None:
    """Table check_values: one row, one column a threshold of the seeds windows and check_values."""
    named = db.execute(
        "SELECT name, val FROM seed_windows UNION ALL SELECT name, val FROM seed_check_values ORDER BY name"
    ).fetchall()
    columns = ", ".join(f"CAST({'NULL' if val is None else repr(val)} AS DOUBLE) AS {name}" for name, val in named)
    db.execute(f"CREATE OR REPLACE {shared.format('TABLE', 'check_values')} AS SELECT {columns}")


# What the loads left of each file and of each row that waits: column, type.
FILES = {
    "file_id": "BIGINT", "name": "VARCHAR", "part": "VARCHAR", "loaded_at": "TIMESTAMP", "lines": "BIGINT",
    "rows_read": "BIGINT", "rows_new": "BIGINT", "rows_unchanged": "BIGINT", "rows_replaced": "BIGINT",
    "rows_quarantined": "BIGINT", "rows_set_aside": "BIGINT",
}  # fmt: skip
WHOLE_NAME = "name || coalesce(', sheet ' || nullif(part, ''), '')"  # a file's, with its sheet
QUARANTINE = {"file_id": "BIGINT", "row": "BIGINT", "table_name": "VARCHAR", "month_no": "BIGINT"}


def loads(db, shared: str) -> None:
    """Macro local_time, and tables check_files, with the sheet in the name and loaded_s, and check_quarantine; both
    are empty before a first load."""
    db.execute(
        f"CREATE OR REPLACE {shared.format('MACRO', 'local_time')}(at_s, offset_s) AS "
        "strftime(make_timestamp((at_s + offset_s) * 1000000), '%Y-%m-%d %H:%M')"
    )
    _copy(
        db,
        shared,
        "files",
        FILES,
        f"* REPLACE ({WHOLE_NAME} AS name), CAST(floor(epoch(loaded_at)) AS BIGINT) AS loaded_s",
    )
    _copy(db, shared, "quarantine", QUARANTINE, "*")


def _copy(db, shared: str, name: str, columns: dict[str, str], shown: str) -> None:
    source = name if name in tables(db) else "(SELECT NULL) AS none WHERE FALSE"
    there = {row[0] for row in db.execute(f"DESCRIBE SELECT * FROM {source}").fetchall()}
    picked = ", ".join(
        f"CAST({column if column in there else 'NULL'} AS {kind}) AS {column}" for column, kind in columns.items()
    )
    db.execute(
        f"CREATE OR REPLACE {shared.format('TABLE', f'check_{name}')} AS SELECT {shown} "
        f"FROM (SELECT {picked} FROM {source})"
    )
