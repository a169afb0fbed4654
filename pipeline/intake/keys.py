"""Rows against each other and against what is loaded: repeated keys in a file, newer versions across files."""

from collections.abc import Callable
from functools import partial

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake.arrays import encoded, in_parts, integers, rises, whole
from pipeline.intake.incoming import NEW, QUARANTINED, REPLACED, UNCHANGED, Incoming, Problem

LIMIT = 1 << 62


# A key as text: its columns joined by this; no cell holds it.
JOINT = "\x1f"


def key_text(table: schema.Table, parts: dict[str, pa.Array]) -> pa.Array:
    """The key of each row as one text, a time as its clock; NULL where a part that must be there is unknown."""
    length = len(next(iter(parts.values())))
    texts = []
    for name in table.key:
        part = whole(parts.get(name, pa.nulls(length, pa.string()))).cast(pa.string())
        texts.append(part if name in table.required else pc.fill_null(part, ""))
    return pc.binary_join_element_wise(*texts, JOINT)


def key_columns(table: schema.Table) -> list[str]:
    """Stored columns of the key; a time is a key by its clock too, so that a repeated hour keeps both its readings."""
    columns = []
    for name in table.key:
        columns.append(name)
        if table.column(name).kind == "time":
            columns.append(f"{name}_s")
    return columns


def one_a_row(rows: pa.Table, columns: list[str]) -> np.ndarray:
    """A whole number a row, equal where all these columns are equal (NULLs too)."""
    combined, span = np.zeros(rows.num_rows, np.int64), 1
    for name in columns:
        size, codes_of = _codes(rows, name)
        if size == 1:
            continue
        if span > LIMIT // size:
            combined = np.unique(combined, return_inverse=True)[1].astype(np.int64)
            span = int(combined.max(initial=0)) + 1
        span *= size
        in_parts(partial(_add_digit, combined, size, codes_of), len(combined))
    return combined


def _add_digit(combined: np.ndarray, size: int, codes_of: Callable[[slice], np.ndarray], part: slice) -> None:
    combined[part] *= size
    combined[part] += codes_of(part)


def _codes(rows: pa.Table, name: str) -> tuple[int, Callable[[slice], np.ndarray]]:
    """(how many codes there may be, the codes of a part from 0) of a column; a NULL has a code of its own."""
    column = whole(rows.column(name))
    if not (pa.types.is_integer(column.type) or pa.types.is_timestamp(column.type)):
        codes, distinct = encoded(column)
        return len(distinct) + 1, codes.__getitem__
    numbers, known = integers(column)
    if pa.types.is_timestamp(column.type):
        whole_seconds = all(in_parts(lambda part: not (numbers[part] % 1_000_000).any(), len(numbers)))
        scale = 1_000_000 if whole_seconds else 1
        return _span(lambda part: numbers[part] // scale, known, len(numbers))
    if (local := name.removesuffix("_s")) != name and local in rows.column_names:
        # A clock says more than its local time only by the offset from UTC.
        times, _ = integers(whole(rows.column(local)))
        return _span(lambda part: times[part] // 1_000_000 - numbers[part], known, len(numbers))
    return _span(numbers.__getitem__, known, len(numbers))


def _span(numbers_of: Callable[[slice], np.ndarray], known: np.ndarray | None, length: int):
    """(how many codes, the codes of a part) of numbers, counted from the least."""

    def ends(part: slice) -> tuple[int, int] | None:
        numbers = numbers_of(part) if known is None else numbers_of(part)[known[part]]
        return (int(numbers.min()), int(numbers.max())) if len(numbers) else None

    found = [pair for pair in in_parts(ends, length) if pair]
    if not found:
        return 1, lambda part: np.zeros(part.stop - part.start, np.int64)
    low, high = min(pair[0] for pair in found), max(pair[1] for pair in found)
    if known is None:
        return high - low + 1, lambda part: numbers_of(part) - low
    return high - low + 2, lambda part: np.where(known[part], numbers_of(part) - low, high - low + 1)


def repeated(keys: np.ndarray) -> np.ndarray:
    """Positions of the rows whose key stands more than once."""
    if not len(keys) or rises(keys):
        return np.array([], np.int64)
    ordered = np.sort(keys)
    twice = np.unique(ordered[1:][ordered[1:] == ordered[:-1]])
    if not len(twice):
        return np.array([], np.int64)

    def find(part: slice) -> np.ndarray:
        nearest = np.minimum(np.searchsorted(twice, keys[part]), len(twice) - 1)
        return part.start + np.flatnonzero(twice[nearest] == keys[part])

    return np.concatenate(in_parts(find, len(keys)))


def within_file(incoming: Incoming) -> None:
    """One key twice in one file: equal rows count once, different ones are all set apart."""
    table = schema.TABLES[incoming.table]
    if not table.key or not incoming.rows.num_rows:
        return
    # By the local time alone first: it is quick, and leaves few rows to look at exactly.
    positions = repeated(one_a_row(incoming.rows, list(table.key)))
    if not len(positions):
        return
    chosen = incoming.rows.take(pa.array(positions))
    keys = one_a_row(chosen, key_columns(table))
    exact = repeated(keys)
    positions, keys, chosen = positions[exact], keys[exact], chosen.take(pa.array(exact))
    group = np.unique(keys, return_inverse=True)[1]
    content = one_a_row(chosen, [name for name in chosen.column_names if name != "source_unit"])
    units = chosen.column("source_unit").to_numpy()
    order = np.lexsort((np.arange(len(group)), group))
    starts = np.concatenate(([True], group[order][1:] != group[order][:-1]))[: len(group)]
    first_content = content[order][np.maximum.accumulate(np.where(starts, np.arange(len(order)), 0))]
    differs = np.bincount(group[order], content[order] != first_content)[group] > 0
    later = np.zeros(len(group), bool)
    later[order] = ~starts
    keep = np.ones(incoming.rows.num_rows, bool)
    keep[positions[differs | later]] = False
    incoming.mark(units[later & ~differs], UNCHANGED)
    if differs.any():
        _clash(incoming, table, chosen.filter(pa.array(differs)), group[differs])
    incoming.keep(keep)


def _clash(incoming: Incoming, table: schema.Table, chosen: pa.Table, group: np.ndarray) -> None:
    """The problem of rows that give one key different contents: each names the other's line."""
    units = chosen.column("source_unit").to_numpy()
    at = incoming.lines[units]
    lines_of: dict[int, set[int]] = {}
    for number, line in zip(group, at, strict=True):
        lines_of.setdefault(number, set()).add(int(line))
    key = " and ".join(table.key)
    said = []
    for number, line in zip(group, at, strict=True):
        elsewhere = sorted(lines_of[number] - {line})
        where = f" (row {', '.join(map(str, elsewhere[:5]))}{', ...' if len(elsewhere) > 5 else ''})"
        said.append(f"the same {key} stands in this file again with other contents{where}; keep the right row")
    parts = {name: chosen.column(f"{name}_s" if table.column(name).kind == "time" else name) for name in table.key}
    nothing = pa.nulls(len(units), pa.string())
    column = table.key[-1] if incoming.table != "vitals" else "value"
    incoming.problems.append(
        Problem("duplicate_key", column, units, nothing, pa.array(said), nothing, key_text(table, parts))
    )
    incoming.mark(units, QUARANTINED)


def against_loaded(db, incoming: Incoming, file_id: int) -> np.ndarray:
    """Marks every row new, unchanged or replacing; removes what is replaced. Returns the mask of rows to insert."""
    table = schema.TABLES[incoming.table]
    n = incoming.rows.num_rows
    insert = np.ones(n, bool)
    if not n:
        return insert
    if not _may_meet(db, incoming):
        everything = (
            slice(None) if _one_to_one(incoming, incoming.rows) else incoming.rows.column("source_unit").to_numpy()
        )
        incoming.mark(everything, NEW)
        return insert
    matched = _matches(db, table, incoming)
    same = matched["same"].to_numpy().astype(bool)
    hit = matched["i"].to_numpy()
    units = incoming.rows.column("source_unit").to_numpy()
    fresh = np.ones(n, bool)
    fresh[hit] = False
    insert[hit[same]] = False
    incoming.mark(units[hit[same]], UNCHANGED)
    incoming.mark(units[hit[~same]], REPLACED)
    incoming.mark(units[fresh], NEW)
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
    db.register("incoming_rows", incoming.rows)
    if table.name in ("cases", "equipment", "stock"):
        clock = "at_s"
        if table.name == "cases":
            clock = "coalesce(induction_at_s, intubation_at_s, vaporizer_on_at_s)"
        period = (
            f"{clock} BETWEEN (SELECT min({clock}) FROM incoming_rows) AND (SELECT max({clock}) FROM incoming_rows)"
        )
        same = (
            "coalesce(site, '') IN (SELECT coalesce(site, '') FROM incoming_rows)" if table.name == "cases" else "true"
        )
        found = db.execute(f"SELECT count(*) FROM {table.name} WHERE {period} AND {same}").fetchall()
    else:
        found = db.execute(
            f"SELECT count(*) FROM {table.name} WHERE {lead} IN (SELECT {lead} FROM incoming_rows)"
        ).fetchall()
    db.unregister("incoming_rows")
    return max(found[0][0] - met, 0)


def _may_meet(db, incoming: Incoming) -> bool:
    """Whether any loaded row shares the first key column (or, without a key, the first column) with the file."""
    lead = schema.TABLES[incoming.table].columns[0].name
    column = incoming.rows.column(lead)
    ids = pa.table({"id": pa.array(encoded(column)[1])})
    db.register("incoming_ids", ids)
    found = db.execute(
        f"SELECT 1 FROM {incoming.table} WHERE {lead} IN (SELECT id FROM incoming_ids) LIMIT 1"
    ).fetchall()
    db.unregister("incoming_ids")
    return bool(found)


def _matches(db, table: schema.Table, incoming: Incoming) -> pa.Table:
    """(i: row of incoming, old: rowid loaded, same: nothing differs) for every row that is already known."""
    data = [name for name, _ in schema.stored_columns(table) if name not in dict(schema.PROVENANCE)]
    lead = table.columns[0].name
    ids = pa.table({"id": pa.array(encoded(incoming.rows.column(lead))[1])})
    rows = incoming.rows.append_column("i", pa.array(np.arange(incoming.rows.num_rows)))
    if table.key:
        required = set(table.required)
        join = " AND ".join(
            f"a.{name} {'=' if name.removesuffix('_s') in required else 'IS NOT DISTINCT FROM'} b.{name}"
            for name in key_columns(table)
        )
        same = " AND ".join(f'a."{name}" IS NOT DISTINCT FROM b."{name}"' for name in data)
        sql = f"""
            WITH known AS (SELECT rowid AS old, * FROM {table.name} WHERE {lead} IN (SELECT id FROM incoming_ids))
            SELECT a.i, b.old, {same} AS same FROM incoming_rows AS a JOIN known AS b ON {join}"""
    else:
        every = ", ".join(f'"{name}"' for name in data)
        join = " AND ".join(f'a."{name}" IS NOT DISTINCT FROM b."{name}"' for name in data)
        sql = f"""
            WITH known AS (
              SELECT rowid AS old, *, row_number() OVER (PARTITION BY {every} ORDER BY rowid) AS nth
              FROM {table.name} WHERE {lead} IN (SELECT id FROM incoming_ids)),
            given AS (SELECT *, row_number() OVER (PARTITION BY {every} ORDER BY i) AS nth FROM incoming_rows)
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


def _one_to_one(incoming: Incoming, rows: pa.Table) -> bool:
    """Whether every source row gave exactly one row, in order."""
    return incoming.one_to_one and rows.num_rows == len(incoming.lines)


def insert(db, incoming: Incoming, mask: np.ndarray, file_id: int, into: str | None = None) -> None:
    """Appends the rows where mask is true, with their provenance."""
    rows = incoming.rows if mask.all() else incoming.rows.filter(pa.array(mask))
    if not rows.num_rows:
        return
    lines = incoming.lines[rows.column("source_unit").to_numpy()]
    rows = rows.drop_columns(["source_unit"]).append_column("source_row", pa.array(lines))
    columns = [name for name, _ in schema.stored_columns(schema.TABLES[incoming.table])]
    chosen = ", ".join(str(file_id) if name == "source_file" else f'"{name}"' for name in columns)
    db.register("incoming_rows", rows)
    db.execute(f"INSERT INTO {into or incoming.table} SELECT {chosen} FROM incoming_rows")
    db.unregister("incoming_rows")
