"""A grid of cells as typed columns of one canonical table, with every finding on the way. Nothing is written here."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake import headers, number_cells, plain, time_cells, word_cells, zones
from pipeline.intake.arrays import as_text, empty, in_parts, integers, whole
from pipeline.intake.findings import Finding, Typed
from pipeline.intake.folds import resolve
from pipeline.intake.grid import Grid, Odd

EARLIEST = datetime(1990, 1, 1)


@dataclass
class TypedGrid:
    """values: canonical column -> one value a row of the grid; clocks: time column -> UTC seconds;
    findings: what was found; decimal, order: how the file's numbers and dates were read."""

    table: str
    wide: bool
    values: dict[str, pa.Array]
    clocks: dict[str, pa.Array]
    findings: list[Finding] = field(default_factory=list)
    decimal: str = "."
    order: str = ""


def type_grid(db, table: str, grid: Grid, zone: str, pseudonym: Callable[[str], str] | None) -> TypedGrid:
    """The grid's known columns typed by the schema. Raises RefusedFile where a question is open.

    zone: of the clinic; pseudonym: makes a patient id unreadable, or None to keep it.
    """
    known = headers.columns_of(table)
    columns = {name: known[name] for name in grid.header if name in known}
    split = {
        name: _plain(db, grid, name, column.kind)
        for name, column in columns.items()
        if column.kind in ("number", "time")
    }
    numbers = [name for name in split if columns[name].kind == "number"]
    times = [name for name in split if columns[name].kind == "time"]
    where = grid.file.name
    decimal = number_cells.decide_decimal(
        db,
        [split[name][1].texts for name in numbers],
        lambda: [_pointed(grid, name, split[name][0])[1] for name in numbers],
        grid.facts.get("decimal"),
        where,
    )
    order = time_cells.decide_order(db, [split[name][1].texts for name in times], grid.facts.get("dates"), where)
    typed = TypedGrid(table, table == "vitals" and headers.is_wide(grid.header), {}, {}, [], decimal, order)
    exact = {}
    for name, column in columns.items():
        if name in numbers:
            values, odd = split[name]
            if decimal == ",":
                values, odd = _without_points(grid, name, values, odd)
            one = number_cells.type_numbers(db, column, values, odd, decimal)
            if (table, name) != ("vitals", "value"):
                one = number_cells.drop_missing_numbers(name, one)
        elif name in times:
            one, exact[name] = time_cells.type_times(db, table, column, *split[name], order, zone)
            one = _in_range(column, one)
        else:
            one = word_cells.type_words(column, _as_text(grid.cells.column(name)), word_cells.reader(column))
            if column.personal == "patient" and pseudonym:
                one.values = _hidden(one.values, pseudonym)
        typed.values[name] = one.values
        typed.findings += one.findings
    if table == "vitals" and {"value", "parameter"} <= typed.values.keys():
        one = number_cells.drop_missing_numbers("value", Typed(typed.values["value"]), typed.values["parameter"])
        typed.values["value"] = one.values
        typed.findings += one.findings
    for name in times:
        typed.clocks[name], doubtful = _clock(typed.values[name], exact[name], zone)
        typed.findings += [Finding(rule, "W", name, positions) for rule, positions in doubtful.items()]
    resolve(typed, zone)
    return typed


def _plain(db, grid: Grid, name: str, kind: str) -> tuple[pa.Array, Odd]:
    """(plain values, odd cells) of a number or time column, whatever the reader made of it."""
    cells = grid.cells.column(name)
    wanted = plain.TYPES[kind]
    if pa.types.is_string(cells.type) or pa.types.is_large_string(cells.type) or pa.types.is_dictionary(cells.type):
        return plain.split(db, cells, kind)
    if kind == "time" and pa.types.is_date(cells.type):
        return plain.split(db, cells.cast(pa.string()), kind)
    if (
        kind == "number"
        and pa.types.is_timestamp(cells.type)
        or kind == "time"
        and not pa.types.is_timestamp(cells.type)
    ):
        return plain.split(db, cells.cast(pa.string()), kind)
    return whole(cells.cast(wanted)), grid.odd.get(name, plain.NOTHING_ODD)


def _as_text(cells: pa.ChunkedArray) -> pa.ChunkedArray:
    """Cells of a word column as text; a whole number loses the '.0' a spreadsheet gave it."""
    if pa.types.is_floating(cells.type):
        return pa.chunked_array([[None if x is None else f"{x:.15g}" for x in cells.to_pylist()]], pa.string())
    return cells if pa.types.is_dictionary(cells.type) else cells.cast(pa.string())


def _pointed(grid: Grid, name: str, values: pa.Array) -> tuple[pa.Array, pa.Array]:
    """(positions, texts) of the plain numbers of a column that are written with a point."""
    cells = grid.cells.column(name)
    if pa.types.is_floating(cells.type):
        if not grid.as_text:
            return plain.NOTHING_ODD
        cells = grid.texts(pa.array(np.arange(len(values)))).column(name)
    texts = whole(cells.cast(pa.string()))
    pointed = pc.and_(pc.fill_null(pc.match_substring(texts, "."), False), pc.is_valid(values))
    positions = pc.indices_nonzero(pointed).cast(pa.int64())
    return positions, texts.take(positions)


def _without_points(grid: Grid, name: str, values: pa.Array, odd: Odd) -> tuple[pa.Array, Odd]:
    """In a file with decimal commas a point is no decimal sign: cells with one are read by rule."""
    positions, texts = _pointed(grid, name, values)
    if not len(positions):
        return values, odd
    mask = np.zeros(len(values), bool)
    mask[positions.to_numpy()] = True
    return (
        pc.if_else(pa.array(mask), pa.scalar(None, values.type), values),
        Odd(pa.concat_arrays([odd.positions, positions]), pa.concat_arrays([odd.texts, texts])),
    )


def _in_range(column: schema.Column, typed: Typed) -> Typed:
    """Times before 1990 or after the end of next year are no times of this record (rule T5)."""
    if not len(typed.values) or typed.values.null_count == len(typed.values):
        return typed
    latest = datetime(datetime.now(UTC).year + 2, 1, 1)
    bounds = pc.min_max(typed.values).as_py()
    if bounds["min"] >= EARLIEST and bounds["max"] < latest:
        return typed
    outside = pc.fill_null(pc.or_(pc.less(typed.values, EARLIEST), pc.greater_equal(typed.values, latest)), False)
    positions = np.flatnonzero(outside.to_numpy(zero_copy_only=False))
    texts = as_text(typed.values.take(pa.array(positions)))
    values = pc.if_else(outside, pa.scalar(None, typed.values.type), typed.values)
    return Typed(values, [*typed.findings, Finding("time_out_of_range", "Q", column.name, positions, texts)])


def _hidden(values: pa.DictionaryArray, pseudonym: Callable[[str], str]) -> pa.DictionaryArray:
    words = [None if word is None else pseudonym(word) for word in values.dictionary.to_pylist()]
    return pa.DictionaryArray.from_arrays(values.indices, pa.array(words, pa.string()))


def _clock(values: pa.Array, exact: dict[str, np.ndarray], zone: str) -> tuple[pa.Array, dict[str, np.ndarray]]:
    """(UTC seconds, {rule: positions in doubt}) of local times; NULL where the time is unknown."""
    micros, known = integers(values)
    seconds = empty(len(micros), np.int64)

    def convert(part: slice) -> tuple[np.ndarray, np.ndarray]:
        local = micros[part] // 1_000_000
        if known is not None:
            local = np.where(known[part], local, local[known[part]].min() if known[part].any() else 0)
        seconds[part] = zones.to_utc(local, zone)
        return tuple(hit + part.start for hit in zones.doubtful(local, zone))

    twice, never = (np.concatenate(hits) for hits in zip(*in_parts(convert, len(micros)), strict=True))
    named = exact.get("positions", np.array([], np.int64))
    if len(named):
        seconds[named] = exact["seconds"]
    doubtful = {}
    for rule, hit in (("time_stands_twice", twice), ("time_does_not_exist", never)):
        hit = np.setdiff1d(hit if known is None else hit[known[hit]], named)
        if len(hit):
            doubtful[rule] = hit
    return pa.array(seconds, mask=None if known is None else ~known), doubtful
