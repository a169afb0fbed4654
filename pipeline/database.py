"""Opens the clinic's DuckDB file: offline, silent, in UTC, one writer at a time."""

import re
from contextlib import contextmanager
from pathlib import Path

import duckdb

from pipeline.errors import DatabaseLocked

FILE = "rounds.duckdb"


@contextmanager
def connect(path: Path | str = ":memory:", *, read_only: bool = False):
    """A connection to the database at path, closed at the end of the with block.

    Raises DatabaseLocked when another process has it open, with that process's number.
    """
    try:
        db = duckdb.connect(str(path), read_only=read_only)
    except duckdb.IOException as cause:
        if "lock" not in str(cause):
            raise
        holder = re.search(r"PID (\d+)", str(cause))
        raise DatabaseLocked(
            where=Path(path).name,
            found=f"open in process {holder.group(1)}" if holder else "open in another process",
            wanted="a database nobody else is using",
            fix="close the other program or wait until its run has ended, then run the command again",
        ) from cause
    try:
        settle(db)
        yield db
    finally:
        db.close()


def settle(db) -> None:
    """No downloads, no progress bar on stdout, every clock in UTC.

    DuckDB 2.0 groups a joined table by the join's key first: of tables of a row a case and measure it saves nothing.
    """
    db.execute("SET enable_progress_bar = false")
    db.execute("SET autoinstall_known_extensions = false")
    db.execute("SET autoload_known_extensions = false")
    db.execute("SET TimeZone = 'UTC'")
    named = db.execute("SELECT name FROM duckdb_optimizers() WHERE name = 'partial_aggregate_pushdown'").fetchall()
    db.execute("SET disabled_optimizers = ?", [",".join(name for (name,) in named)])


@contextmanager
def at_once(db):
    """One transaction: all of it stands or nothing, and the disk is waited for once. For small tables: DuckDB plans
    without statistics where it reads what the same transaction wrote."""
    db.execute("BEGIN")
    try:
        yield
    except BaseException:
        db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")


def tables(db) -> set[str]:
    """Names of the tables and views in the database."""
    return {row[0] for row in db.execute("SELECT table_name FROM information_schema.tables").fetchall()}


def write_rows(db, name: str, columns: dict[str, str], rows: list[tuple]) -> None:
    """Replaces a table by these rows. columns: SQL type by name, in the rows' order. One statement for all rows."""
    import pyarrow

    shape = ", ".join(f'"{column}" {kind}' for column, kind in columns.items())
    db.execute(f"CREATE OR REPLACE TABLE {name} ({shape})")
    if rows:
        arrays = [pyarrow.array(values) for values in zip(*rows, strict=True)]
        db.register("rows_to_write", pyarrow.table(arrays, names=list(columns)))
        db.execute(f"INSERT INTO {name} SELECT * FROM rows_to_write")
        db.unregister("rows_to_write")
