"""Rows that name a case nobody has loaded yet: kept apart, typed, and let in when the case arrives."""

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake import merging
from pipeline.intake.arrays import encoded
from pipeline.intake.books import waiting
from pipeline.intake.incoming import NEW, QUARANTINED, REPLACED, UNCHANGED, Incoming, Problem

RULE = "no_such_case"


def set_apart(db, incoming: Incoming, file_id: int) -> None:
    """Moves rows whose case is not loaded to the waiting table and makes them problems."""
    if incoming.table not in schema.CHILD_TABLES or not incoming.rows.num_rows:
        return
    codes, ids = encoded(incoming.rows.column("case_id"))
    absent = _without_case(db, ids)
    if not absent:
        return
    missing = np.zeros(len(ids) + 1, bool)
    missing[[n for n, *_ in absent]] = True
    orphan = missing[codes] & incoming.mask()
    if not orphan.any():
        return
    said = np.full(len(ids) + 1, None, object)
    for n, case_id, name, row in absent:
        if name:
            said[n] = (
                f"case {case_id} is itself quarantined ({name}, row {row}); mend that row and this one loads by itself"
            )
        else:
            said[n] = f"no case {case_id} is loaded; load its case and this row loads by itself, or correct the case_id"
    positions = np.flatnonzero(orphan)
    units, first = np.unique(incoming.units(positions), return_index=True)
    which = codes[positions[first]]
    reasons = pa.DictionaryArray.from_arrays(pa.array(which), pa.array(said, pa.string()))
    values = pa.DictionaryArray.from_arrays(pa.array(which), pa.concat_arrays([ids, pa.nulls(1, pa.string())]))
    incoming.problems.append(Problem(RULE, "case_id", units, values, reasons, pa.nulls(len(units), pa.string())))
    incoming.mark(units, QUARANTINED)
    merging.insert(db, incoming, orphan, file_id, into=waiting(incoming.table))
    incoming.keep(~orphan)


def _without_case(db, ids: pa.Array) -> list[tuple]:
    """(position, id, file and row where its case is in quarantine or None) of the case ids that are not loaded."""
    if not len(ids):
        return []
    ends = pc.min_max(ids).as_py()
    db.register("incoming_ids", pa.table({"n": pa.array(np.arange(len(ids))), "id": ids}))
    # Most files have all their cases, which lie close together.
    absent = db.execute(
        """SELECT n FROM incoming_ids WHERE NOT EXISTS (
             SELECT 1 FROM (SELECT case_id FROM cases WHERE case_id BETWEEN ? AND ?) WHERE case_id = id)""",
        [ends["min"], ends["max"]],
    ).fetchall()
    if absent:
        absent = db.execute(
            """
            SELECT n, id, q.name, q."row" FROM incoming_ids
            LEFT JOIN (SELECT case_id, min(name) AS name, min("row") AS "row" FROM quarantine
                       WHERE table_name = 'cases' GROUP BY case_id) AS q ON q.case_id = id
            WHERE id NOT IN (SELECT case_id FROM cases) ORDER BY n
            """
        ).fetchall()
    db.unregister("incoming_ids")
    return absent


def release(db) -> list[tuple[str, str, int]]:
    """Lets waiting rows in whose case is loaded now; returns (file name, table, rows) of what came in.

    The accounts of their files move from quarantined to what they turn out to be.
    """
    released = []
    for name in schema.CHILD_TABLES:
        table = schema.TABLES[name]
        files = db.execute(
            f"""SELECT DISTINCT source_file FROM {waiting(name)}
                WHERE case_id IN (SELECT case_id FROM cases) ORDER BY source_file"""
        ).fetchall()
        for (file_id,) in files:
            released.append(_release_file(db, table, file_id))
    return released


def _release_file(db, table: schema.Table, file_id: int) -> tuple[str, str, int]:
    columns = ", ".join(f'"{name}"' for name, _ in schema.stored_columns(table) if name != "source_file")
    ready = f"source_file = {file_id} AND case_id IN (SELECT case_id FROM cases)"
    rows = db.sql(f"SELECT {columns} FROM {waiting(table.name)} WHERE {ready} ORDER BY rowid").to_arrow_table()
    db.execute(f"DELETE FROM {waiting(table.name)} WHERE {ready}")
    lines, units = np.unique(rows.column("source_row").to_numpy(), return_inverse=True)
    incoming = Incoming(
        table.name,
        rows.drop_columns(["source_row"]).append_column("source_unit", pa.array(units)),
        lines,
        np.zeros(len(lines), np.uint8),
    )
    mask = merging.against_loaded(db, incoming, file_id)
    merging.insert(db, incoming, mask, file_id)
    states = {
        "rows_replaced": incoming.state & REPLACED > 0,
        "rows_new": (incoming.state & NEW > 0) & (incoming.state & REPLACED == 0),
        "rows_unchanged": incoming.state == UNCHANGED,
    }
    # A row with another fault besides stays quarantined for that.
    db.register("released", pa.table({"row": pa.array(lines)}))
    free = db.execute(
        f"""DELETE FROM quarantine WHERE file_id = ? AND rule = '{RULE}' AND "row" IN (SELECT "row" FROM released)
            RETURNING "row" """,
        [file_id],
    ).fetchnumpy()["row"]
    db.execute(
        """DELETE FROM quarantine_keys WHERE file_id = ? AND "row" IN (SELECT "row" FROM released)
           AND "row" NOT IN (SELECT "row" FROM quarantine WHERE file_id = ?)""",
        [file_id, file_id],
    )
    db.unregister("released")
    freed = np.isin(lines, free)
    changes = {column: int((state & freed).sum()) for column, state in states.items()}
    update = ", ".join(f"{column} = {column} + {count}" for column, count in changes.items())
    db.execute(
        f"UPDATE files SET {update}, rows_quarantined = rows_quarantined - {int(freed.sum())} WHERE file_id = ?",
        [file_id],
    )
    (name,) = db.execute("SELECT name FROM files WHERE file_id = ?", [file_id]).fetchall()[0]
    return name, table.name, int(freed.sum())
