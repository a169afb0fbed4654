"""Quarantined rows that a later file brings again, mended or not: their place is taken, their file's account moves.

A row is known again by what a sheet of ours says it mends (file and row), by its key, or, where it
has none that could be read, by all its cells but the faulty ones being equal to those of a new row.
"""

import json
from collections import defaultdict

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake.books import waiting
from pipeline.intake.grid import Grid
from pipeline.intake.headers import MENDING, is_mending
from pipeline.intake.incoming import NEW, Incoming
from pipeline.intake.keys import JOINT
from pipeline.intake.to_fix import as_written


def undo_defusing(grid: Grid) -> None:
    """Takes the apostrophes off the cells of a sheet for mending that would have run as formulas."""
    for number, name in enumerate(grid.header):
        cells = grid.cells.column(name)
        if pa.types.is_string(cells.type) and pc.any(pc.starts_with(cells, "'")).as_py():
            texts = pa.array([as_written(text) for text in cells.to_pylist()], pa.string())
            grid.cells = grid.cells.set_column(number, name, texts)


def clear(db, incoming: Incoming, grid: Grid, file_id: int) -> int:
    """Clears from quarantine the rows of earlier files that this file brought again; returns how many."""
    table = incoming.table
    (count,) = db.execute(
        "SELECT count(*) FROM quarantine WHERE table_name = ? AND file_id <> ?", [table, file_id]
    ).fetchall()[0]
    if not count:
        return 0
    cleared = []
    if is_mending(grid.header):
        cleared += _by_place(db, table, grid, incoming)
    cleared += _by_key(db, incoming, file_id)
    if incoming.problems or grid.rejected:
        cleared += _same_again(db, table, file_id)
    cleared += _by_cells(db, incoming, grid, file_id, set(cleared))
    return take_place(db, table, set(cleared), file_id)


def take_place(db, table: str, cleared: set[tuple[int, int]], file_id: int) -> int:
    """Moves quarantined rows, as (file, row), to replaced_rows, and their files' accounts with them."""
    if not cleared:
        return 0
    rows = pa.table(
        {
            "file_id": pa.array([one[0] for one in cleared], pa.int64()),
            "row": pa.array([one[1] for one in cleared], pa.int64()),
        }
    )
    db.register("cleared", rows)
    mine = f"""table_name = '{table}' AND (file_id, "row") IN (SELECT (file_id, "row") FROM cleared)"""
    db.execute(
        f"""INSERT INTO replaced_rows SELECT '{table}', file_id, "row", {file_id}, now()::TIMESTAMP, raw
            FROM quarantine WHERE {mine} ORDER BY file_id, "row" """
    )
    db.execute(
        f"""UPDATE files SET rows_quarantined = rows_quarantined - moved.n, rows_replaced = rows_replaced + moved.n
            FROM (SELECT file_id, count(*) AS n FROM quarantine WHERE {mine} GROUP BY file_id) AS moved
            WHERE files.file_id = moved.file_id"""
    )
    (moved,) = db.execute(f"SELECT count(*) FROM quarantine WHERE {mine}").fetchall()[0]
    db.execute(f"DELETE FROM quarantine WHERE {mine}")
    db.execute(f"DELETE FROM quarantine_keys WHERE {mine}")
    if table in schema.CHILD_TABLES:
        db.execute(
            f"""DELETE FROM {waiting(table)}
                WHERE (source_file, source_row) IN (SELECT (file_id, "row") FROM cleared)"""
        )
    db.unregister("cleared")
    return moved


def _by_place(db, table: str, grid: Grid, incoming: Incoming) -> list[tuple[int, int]]:
    """Rows a sheet of ours names, where the sheet's row is a record."""
    records = np.isin(grid.rows.to_numpy(zero_copy_only=False), incoming.lines[incoming.state > 0])
    places = grid.texts(pa.array(np.flatnonzero(records))).select(["from_file", "from_row"])
    db.register("places", places)
    found = db.execute(
        """SELECT DISTINCT q.file_id, q."row" FROM quarantine AS q JOIN places AS p
           ON q.name = p.from_file AND q."row" = TRY_CAST(p.from_row AS BIGINT) WHERE q.table_name = ?""",
        [table],
    ).fetchall()
    db.unregister("places")
    return found


def _by_key(db, incoming: Incoming, file_id: int) -> list[tuple[int, int]]:
    """Rows all of whose keys this file brought in good order."""
    table = schema.TABLES[incoming.table]
    if not table.key or not incoming.rows.num_rows:
        return []
    parts = [f'"{name}_s"' if table.column(name).kind == "time" else f'"{name}"' for name in table.key]
    text = f" || '{JOINT}' || ".join(
        f"{part}::VARCHAR" if name in table.required else f"coalesce({part}::VARCHAR, '')"
        for name, part in zip(table.key, parts, strict=True)
    )
    mine = f"table_name = '{table.name}' AND file_id <> {file_id}"
    db.register("incoming_rows", incoming.on_their_way())
    found = db.execute(
        f"""
        WITH brought AS (
          SELECT DISTINCT {text} AS key FROM incoming_rows
          WHERE good AND case_id IN (SELECT case_id FROM quarantine_keys WHERE {mine}))
        SELECT file_id, "row" FROM quarantine_keys LEFT JOIN brought USING (key)
        WHERE {mine} GROUP BY file_id, "row" HAVING count(*) = count(brought.key)
        """
    ).fetchall()
    db.unregister("incoming_rows")
    return found


def _same_again(db, table: str, file_id: int) -> list[tuple[int, int]]:
    """Rows this file brought again just as faulty: the later one stands for both."""
    return db.execute(
        """
        WITH numbered AS (
          SELECT file_id, "row", raw, row_number() OVER (PARTITION BY file_id = ?, raw ORDER BY file_id, "row") AS nth
          FROM quarantine WHERE table_name = ? AND raw IS NOT NULL)
        SELECT old.file_id, old."row"
        FROM numbered AS old JOIN numbered AS new ON old.raw = new.raw AND old.nth = new.nth
        WHERE old.file_id <> ? AND new.file_id = ?
        """,
        [file_id, table, file_id, file_id],
    ).fetchall()


def _by_cells(db, incoming: Incoming, grid: Grid, file_id: int, done: set) -> list[tuple[int, int]]:
    """Rows without a readable key that equal a new row of this file in every cell but the faulty ones."""
    new = np.flatnonzero(incoming.state == NEW)
    if not len(new):
        return []
    open_rows = db.execute(
        """
        SELECT file_id, "row", raw, column_name FROM quarantine AS q
        WHERE table_name = ? AND file_id <> ? AND column_name IS NOT NULL
          AND rule NOT IN ('no_such_case', 'duplicate_key')
          AND NOT EXISTS (SELECT 1 FROM quarantine_keys AS k WHERE k.file_id = q.file_id AND k."row" = q."row")
        ORDER BY file_id, "row"
        """,
        [incoming.table, file_id],
    ).fetchall()
    open_rows = [one for one in open_rows if (one[0], one[1]) not in done and one[2]]
    if not open_rows:
        return []
    places = incoming.places(grid, new)
    texts = grid.texts(pa.array(places[places >= 0]))
    texts = texts.select([name for name in texts.column_names if name not in MENDING])
    sought = defaultdict(list)
    for old_file, row, raw, column in open_rows:
        cells = json.loads(raw)
        rest = tuple((name, cells.get(name)) for name in sorted(cells) if name not in (column, "patient_id"))
        sought[(column, tuple(sorted(set(cells) - {column, "patient_id"})))].append((rest, (old_file, row)))
    found = []
    for (column, names), rows in sought.items():
        if not set(names) <= set(texts.column_names) or column not in texts.column_names:
            continue
        waiting_for = defaultdict(list)
        for rest, place in rows:
            waiting_for[rest].append(place)
        columns = [texts.column(name).to_pylist() for name in names]
        for cells in zip(*columns, strict=True):
            places_left = waiting_for.get(tuple(zip(names, cells, strict=True)))
            if places_left:
                found.append(places_left.pop(0))
    return found
