"""A grid as its file calls things, brought to our columns, words, units and times."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.grid import Grid
from pipeline.intake.mapping import (
    case_rows,
    clocks,
    dose_rows,
    figures,
    layout,
    other_rows,
    readings,
    records,
    vocabulary,
)
from pipeline.intake.mapping.clinic_file import FileKind, Mapping, must_be_answered
from pipeline.intake.mapping.targets import targets_of_file
from pipeline.intake.mapping.work import Work

Starts = Callable[[list[str]], dict[str, datetime]]


def apply(
    grid: Grid,
    kind: FileKind,
    mapping: Mapping,
    units: dict[str, str] | None = None,
    serials: str = "1900",
    starts: Starts | None = None,
) -> Grid:
    """The grid with our columns, by a kind of mapping.toml. Raises RefusedFile.

    units: header -> unit, from a line of units in the file; serials: how a sheet counts days ('1900' or
    '1904'); starts: case ids -> local start of their cases, for clocks in a file without a day.
    """
    must_be_answered(kind, grid.file)
    targets = targets_of_file(grid, kind)
    headers = {target: header for header, target in targets.items()}
    grid = _filled(grid, kind)
    keys = [headers[name] for name in _keys(kind.table) if name in headers]
    tests = {headers[name]: mapping.test_patients for name in ("case_id", "patient_id") if name in headers}
    grid = records.only(grid, keys, kind.skip, tests if mapping.test_patients else None)
    work = _work(grid, kind, mapping, targets, units or {})
    _rows_that_count(work, kind)
    vocabulary.read(work)
    if work.table == "cases":
        case_rows.read_words(work)
    _numbers(work)
    clocks.read(work, serials, starts)
    if work.table == "cases":
        case_rows.check(work)
    return work.finished()


def _keys(table: str) -> tuple[str, ...]:
    """Columns of which one is never blank in a record: a line without it is looked at as a total or a page line."""
    return {"equipment": ("machine_id", "item"), "stock": ("item",)}.get(table, ("case_id",))


def _filled(grid: Grid, kind: FileKind) -> Grid:
    for header in kind.fill_down:
        if header in grid.header:
            grid = records.fill_down(grid, header)
    return grid


def _work(grid: Grid, kind: FileKind, mapping: Mapping, targets: dict[str, str], units: dict[str, str]) -> Work:
    """The grid's cells by our names, constants beside them, and the unit each column declares."""
    cells, declared = {}, {}
    texts = grid.texts(pa.array(range(len(grid.rows)), pa.int64()))
    for header, column in targets.items():
        made = texts.column(header).combine_chunks()
        made = made.combine_chunks() if isinstance(made, pa.ChunkedArray) else made
        cells[column] = _known(made, kind.missing)
        if own := figures.unit_said(grid, kind, header, column, units.get(header) or layout.unit_in(header)[1]):
            declared[column] = own
    for column, value in kind.constants.items():
        blank = pa.array([str(value)] * len(grid.rows), pa.string())
        cells[column] = pc.coalesce(cells[column], blank) if column in cells else blank
    if kind.fold_case and "case_id" in cells:
        cells["case_id"] = pc.utf8_upper(cells["case_id"])
    headers = {column: header for header, column in targets.items()}
    rows = grid.rows.to_numpy(zero_copy_only=False)
    work = Work(kind.table, replace(grid, notes=list(grid.notes)), kind, mapping, cells, headers, rows, declared)
    work.ticks = {
        event: texts.column(header).combine_chunks()
        for header, event in kind.events.items()
        if header in texts.column_names
    }
    return work


def _known(cells: pa.Array, missing: list) -> pa.Array:
    """The cells without those that hold one of the clinic's own words for not recorded, in either case."""
    if not missing:
        return cells
    said = pa.array([str(word).strip().casefold() for word in missing], pa.string())
    blank = pc.is_in(pc.utf8_lower(pc.utf8_trim_whitespace(cells.cast(pa.string()))), value_set=said)
    return pc.if_else(blank, pa.scalar(None, cells.type), cells)


def _rows_that_count(work: Work, kind: FileKind) -> None:
    work.set_aside += other_rows.set_aside_uncounted(work)
    if work.table == "events":
        if work.ticks:
            work.set_aside += other_rows.ticks(work, work.ticks)
        work.set_aside += other_rows.set_aside_none(work)


def _numbers(work: Work) -> None:
    """Every number in our unit with a decimal point."""
    columns = figures.number_columns(work)
    others = ("value", "quantity", "blood_pressure", "amount")
    decimal = figures.decimal_of(
        work, list(dict.fromkeys([*columns, *(name for name in others if name in work.cells)]))
    )
    if not work.kind.plain:
        work.grid.facts["decimal_in_file"] = decimal
    if work.table == "vitals":
        return readings.read(work, decimal)
    if work.table == "drugs":
        dose_rows.read(work, decimal)
        columns.pop("amount", None)
    if work.table == "equipment":
        other_rows.equipment(work, decimal)
        columns.pop("value", None)
    for name, ours in columns.items():
        figures.read_column(work, name, ours, decimal)
