"""Rows against what is loaded: new, unchanged, or a newer version of a row, which is then put away."""

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake.arrays import encoded
from pipeline.intake.incoming import NEW, REPLACED, UNCHANGED, Incoming
from pipeline.intake.keys import key_columns


def against_loaded(db, incoming: Incoming, file_id: int) -> np.ndarray:
    """Marks every row new, unchanged or replacing; removes what is replaced. Returns the mask of rows to insert."""
    table = schema.TABLES[incoming.table]
    insert = incoming.mask()
    if not insert.any():
        return insert
    if not _may_meet(db, incoming):
        incoming.mark(incoming.units(slice(None) if incoming.good is None else np.flatnonzero(insert)), NEW)
        return insert
    matched = _matches(db, table, incoming)
    same = matched["same"].to_numpy().astype(bool)
    hit = matched["i"].to_numpy()
    fresh, insert = insert.copy(), insert.copy()
    fresh[hit] = False
    insert[hit[same]] = False
    incoming.mark(incoming.units(hit[same]), UNCHANGED)
    incoming.mark(incoming.units(hit[~same]), REPLACED)
    incoming.mark(incoming.units(np.flatnonzero(fresh)), NEW)
    if len(hit):
        incoming.absent = _absent(db, table, incoming, len(np.unique(matched["old"].to_numpy())))
    if not same.all():
        _put_away(db, table, matched.filter(pa.array(~same)), file_id)
    return insert


def _absent(db, table: schema.Table, incoming: Incoming, met: int) -> int:
    """Rows loaded before that this file, which brings some of their neighbors again, no longer has.

    Neighbors: rows of the same cases; for cases, equipment and stock, rows of the same period.
    """
    lead = table.columns[0].name
    db.register("incoming_rows", incoming.on_their_way())
    if table.name in ("cases", "equipment", "stock"):
        clock = "at_s"
        if table.name == "cases":
            clock = "coalesce(induction_at_s, intubation_at_s, vaporizer_on_at_s)"
        period = (
            f"{clock} BETWEEN (SELECT min({clock}) FROM incoming_rows WHERE good) "
            f"AND (SELECT max({clock}) FROM incoming_rows WHERE good)"
        )
        same = (
            "coalesce(site, '') IN (SELECT coalesce(site, '') FROM incoming_rows WHERE good)"
            if table.name == "cases"
            else "true"
        )
        found = db.execute(f"SELECT count(*) FROM {table.name} WHERE {period} AND {same}").fetchall()
    else:
        found = db.execute(
            f"SELECT count(*) FROM {table.name} WHERE {lead} IN (SELECT {lead} FROM incoming_rows WHERE good)"
        ).fetchall()
    db.unregister("incoming_rows")
    return max(found[0][0] - met, 0)


def _may_meet(db, incoming: Incoming) -> bool:
    """Whether any loaded row shares the first key column (or, without a key, the first column) with the file."""
    lead = schema.TABLES[incoming.table].columns[0].name
    ids = encoded(incoming.rows.column(lead))[1]
    if not len(ids):
        return False
    ends = pc.min_max(ids).as_py()
    db.register("incoming_ids", pa.table({"id": ids}))
    # The ends let most of a long table go unread.
    found = db.execute(
        f"""SELECT 1 FROM {incoming.table}
            WHERE {lead} BETWEEN ? AND ? AND {lead} IN (SELECT id FROM incoming_ids) LIMIT 1""",
        [ends["min"], ends["max"]],
    ).fetchall()
    db.unregister("incoming_ids")
    return bool(found)


def _matches(db, table: schema.Table, incoming: Incoming) -> pa.Table:
    """(i: row of incoming, old: rowid loaded, same: nothing differs) for every row that is already known."""
    data = [name for name, _ in schema.stored_columns(table) if name not in dict(schema.PROVENANCE)]
    lead = table.columns[0].name
    ids = pa.table({"id": pa.array(encoded(incoming.rows.column(lead))[1])})
    rows = incoming.on_their_way().append_column("i", pa.array(np.arange(incoming.rows.num_rows)))
    if table.key:
        required = set(table.required)
        join = " AND ".join(
            f"a.{name} {'=' if name.removesuffix('_s') in required else 'IS NOT DISTINCT FROM'} b.{name}"
            for name in key_columns(table)
        )
        same = " AND ".join(f'a."{name}" IS NOT DISTINCT FROM b."{name}"' for name in data)
        sql = f"""
            WITH known AS (SELECT rowid AS old, * FROM {table.name} WHERE {lead} IN (SELECT id FROM incoming_ids))
            SELECT a.i, b.old, {same} AS same FROM incoming_rows AS a JOIN known AS b ON {join} WHERE a.good"""
    else:
        every = ", ".join(f'"{name}"' for name in data)
        join = " AND ".join(f'a."{name}" IS NOT DISTINCT FROM b."{name}"' for name in data)
        sql = f"""
            WITH known AS (
              SELECT rowid AS old, *, row_number() OVER (PARTITION BY {every} ORDER BY rowid) AS nth
              FROM {table.name} WHERE {lead} IN (SELECT id FROM incoming_ids)),
            given AS (
              SELECT *, row_number() OVER (PARTITION BY {every} ORDER BY i) AS nth FROM incoming_rows WHERE good)
            SELECT a.i, b.old, true AS same FROM given AS a JOIN known AS b ON a.nth = b.nth AND {join}"""
    db.register("incoming_ids", ids)
    db.register("incoming_rows", rows)
    try:
        return db.sql(sql).to_arrow_table()
    finally:
        db.unregister("incoming_ids")
        db.unregister("incoming_rows")


def _put_away(db, table: schema.Table, matched: pa.Table, file_id: int) -> None:
    """Moves loaded rows that a newer file replaces to replaced_rows."""
    db.register("outdated", matched)
    fields = ", ".join(f'"{column.name}" := old."{column.name}"' for column in table.columns)
    db.execute(
        f"""
        INSERT INTO replaced_rows
        SELECT '{table.name}', old.source_file, old.source_row, ?, now()::TIMESTAMP, to_json(struct_pack({fields}))
        FROM {table.name} AS old WHERE old.rowid IN (SELECT old FROM outdated)
        """,
        [file_id],
    )
    db.execute(f"DELETE FROM {table.name} WHERE rowid IN (SELECT old FROM outdated)")
    db.unregister("outdated")


def insert(db, incoming: Incoming, mask: np.ndarray, file_id: int, into: str | None = None) -> None:
    """Appends the rows where mask is true, with their provenance."""
    if not mask.any():
        return
    rows = incoming.rows.append_column("source_row", pa.array(incoming.lines[incoming.units()]))
    chosen_rows = ""
    if not mask.all():
        rows, chosen_rows = rows.append_column("chosen", pa.array(mask)), "WHERE chosen"
    columns = [name for name, _ in schema.stored_columns(schema.TABLES[incoming.table])]
    chosen = ", ".join(str(file_id) if name == "source_file" else f'"{name}"' for name in columns)
    db.register("incoming_rows", rows)
    db.execute(f"INSERT INTO {into or incoming.table} SELECT {chosen} FROM incoming_rows {chosen_rows}")
    db.unregister("incoming_rows")
