"""Keys as whole numbers, twenty million at a time; one key twice in one file."""

from collections.abc import Callable

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake.arrays import empty, encoded, in_parts, integers, whole
from pipeline.intake.incoming import QUARANTINED, UNCHANGED, Incoming, Problem

LIMIT = 1 << 62
# Rows of the part before that are looked at with a part, and codes its last column may have, to find keys twice.
OVERLAP, MOST_CODES = 1 << 10, 1 << 6


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
    keys_of = _keys(rows, columns)
    combined = empty(rows.num_rows, np.int64)

    def fill(part: slice) -> None:
        combined[part] = keys_of(part)

    in_parts(fill, len(combined))
    return combined


def _keys(rows: pa.Table, columns: list[str]) -> Callable[[slice], np.ndarray]:
    """Gives the keys of a part of the rows: the codes of the columns as the digits of one number."""
    return _digits(_codes_of(rows, columns))


def _codes_of(rows: pa.Table, columns: list[str]) -> list[tuple[int, Callable[[slice], np.ndarray]]]:
    """(how many, the codes of a part) of each column that has more than one."""
    digits, span = [], 1
    for name in columns:
        size, codes_of = _codes(rows, name)
        if size > 1 and span > LIMIT // size:
            # Too many combinations for one number: those that occur are numbered instead.
            parts = in_parts(_digits(digits), rows.num_rows)
            numbers = np.unique(np.concatenate(parts), return_inverse=True)[1].astype(np.int64)
            span = int(numbers.max(initial=0)) + 1
            digits = [(span, numbers.__getitem__)]
        if size > 1:
            digits.append((size, codes_of))
            span *= size
    return digits


def _digits(digits: list[tuple[int, Callable[[slice], np.ndarray]]]) -> Callable[[slice], np.ndarray]:
    def keys_of(part: slice) -> np.ndarray:
        combined = np.zeros(part.stop - part.start, np.int64)
        for size, codes_of in digits:
            combined *= size
            combined += codes_of(part)
        return combined

    return keys_of


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


def repeated(rows: pa.Table, columns: list[str]) -> np.ndarray:
    """Positions of the rows whose key stands more than once."""
    length = rows.num_rows
    if not length:
        return np.array([], np.int64)
    digits = _codes_of(rows, columns)
    keys_of = _digits(digits)

    def rises(part: slice) -> bool:
        keys = keys_of(slice(max(part.start - 1, 0), part.stop))
        return bool((keys[1:] > keys[:-1]).all())

    # Exports come in order as a rule; then no key can stand twice, and none needs keeping.
    if all(in_parts(rises, length)) or _once_a_run(digits, length):
        return np.array([], np.int64)
    keys = np.concatenate(in_parts(keys_of, length))
    ordered = np.sort(keys)
    twice = np.unique(ordered[1:][ordered[1:] == ordered[:-1]])
    if not len(twice):
        return np.array([], np.int64)

    def find(part: slice) -> np.ndarray:
        nearest = np.minimum(np.searchsorted(twice, keys[part]), len(twice) - 1)
        return part.start + np.flatnonzero(twice[nearest] == keys[part])

    return np.concatenate(in_parts(find, length))


def _once_a_run(digits: list[tuple[int, Callable[[slice], np.ndarray]]], length: int) -> bool:
    """Whether the rows are in order of all columns but the last, which has no code twice among rows equal in those:
    readings of one time stand in any order. False also where that is not easily seen."""
    if len(digits) < 2 or digits[-1][0] > MOST_CODES:
        return False
    size, last_of = digits[-1]
    first_of = _digits(digits[:-1])

    def once(part: slice) -> bool:
        part = slice(max(part.start - OVERLAP, 0), part.stop)
        first = first_of(part)
        if (first[1:] < first[:-1]).any() or (part.start and first[0] == first[min(OVERLAP, len(first) - 1)]):
            return False
        runs = np.concatenate(([0], np.cumsum(first[1:] != first[:-1])))
        return bool(np.bincount(runs * size + last_of(part)).max() < 2)

    return all(in_parts(once, length))


def within_file(incoming: Incoming) -> None:
    """One key twice in one file: equal rows count once, different ones are all set apart."""
    table = schema.TABLES[incoming.table]
    if not table.key or not incoming.rows.num_rows:
        return
    # By the local time alone first: it is quick, and leaves few rows to look at exactly.
    positions = repeated(incoming.rows, list(table.key))
    if incoming.good is not None:
        positions = positions[incoming.good[positions]]
    if not len(positions):
        return
    chosen = incoming.rows.take(pa.array(positions))
    keys = one_a_row(chosen, key_columns(table))
    exact = repeated(chosen, key_columns(table))
    positions, keys, chosen = positions[exact], keys[exact], chosen.take(pa.array(exact))
    group = np.unique(keys, return_inverse=True)[1]
    content = one_a_row(chosen, [name for name in chosen.column_names if name != "source_unit"])
    units = incoming.units(positions)
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
        _clash(incoming, table, chosen.filter(pa.array(differs)), units[differs], group[differs])
    incoming.keep(keep)


def _clash(incoming: Incoming, table: schema.Table, chosen: pa.Table, units: np.ndarray, group: np.ndarray) -> None:
    """The problem of rows that give one key different contents: each names the other's line."""
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
