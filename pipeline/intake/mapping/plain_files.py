"""Files whose columns are ours: what their typing cannot read by itself is read here, the rest is left alone."""

from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake.arrays import encoded
from pipeline.intake.grid import Grid, Odd
from pipeline.intake.mapping import clean_readings, figures, layout, numbers, readings, records, words
from pipeline.intake.mapping.apply import apply
from pipeline.intake.mapping.clinic_file import Mapping, ours
from pipeline.intake.mapping.work import Unreadable, Work

# Parameters of which a plain number may mean something else.
SUSPICIOUS = ("etco2", "temperature", "spo2")


def tidied(table: str, grid: Grid, mapping: Mapping, starts=None) -> Grid:
    """The grid with words, foreign units, clocks and nights read; columns as they were. Raises RefusedFile."""
    kind = ours(table, grid.header)
    grid, units = without_units_line(grid)
    if table == "vitals" and (clean := clean_readings.typed(grid, mapping)):
        return clean
    if table != "vitals" or not any(pa.types.is_floating(grid.cells.column(name).type) for name in grid.header):
        return apply(grid, kind, mapping, units, starts=starts)
    tests = {"case_id": mapping.test_patients} if mapping.test_patients else None
    grid = records.only(grid, ["case_id"], (), tests)
    work = Work(table, grid, kind, mapping, {}, {}, grid.rows.to_numpy(zero_copy_only=False))
    if "parameter" in grid.header:
        _long(grid, work)
    else:
        for name in schema.PARAMETERS:
            if name in grid.header:
                _column(grid, work, name, name, None)
    return replace(grid, notes=[*grid.notes, *work.made_notes()], faults=[*grid.faults, *work.faults])


def without_units_line(grid: Grid) -> tuple[Grid, dict[str, str]]:
    """(the grid without a first line of units, header -> unit); the grid as it is where there is no such line."""
    if not len(grid.rows):
        return grid, {}
    cells = {name: words.tidy(cell) for name, cell in grid.texts(pa.array([0])).to_pylist()[0].items() if cell}
    units = {}
    for name, cell in cells.items():
        if not (unit := layout.as_unit(cell)):
            return grid, {}
        units[name] = unit
    if not units:
        return grid, {}
    aside = sorted([*grid.set_aside, (int(grid.rows[0].as_py()), "line of units")])
    return replace(records.taken(grid, np.arange(1, len(grid.rows))), set_aside=aside), units


def _long(grid: Grid, work: Work) -> None:
    codes, texts = encoded(grid.cells.column("parameter"))
    if set(texts.to_pylist()) - schema.PARAMETERS.keys():
        work.cells["parameter"] = pc.cast(grid.cells.column("parameter"), pa.string())
        readings.name_parameters(work)
        place = grid.header.index("parameter")
        grid.cells = grid.cells.set_column(place, "parameter", work.cells["parameter"])
        codes, texts = encoded(work.cells["parameter"])
    for code, name in enumerate(texts.to_pylist()):
        if name in schema.PARAMETERS and (name in SUSPICIOUS or "value" in grid.odd):
            _column(grid, work, "value", name, codes == code)


def _column(grid: Grid, work: Work, column: str, name: str, mask: np.ndarray | None) -> None:
    """The readings of one parameter in a column of numbers: suspicious numbers, and cells that are no plain number."""
    if name in SUSPICIOUS:
        _suspicious(grid, work, column, name, mask)
    _odd_cells(grid, work, column, name, mask)


def _suspicious(grid: Grid, work: Work, column: str, name: str, mask: np.ndarray | None) -> None:
    """Pressures that may be kPa, temperatures that may be Fahrenheit, saturations that may be fractions."""
    values = grid.cells.column(column).to_numpy()
    mine = values if mask is None else values[mask]
    with np.errstate(invalid="ignore"):
        if name == "etco2":
            some = np.sort(mine[mine > 0][:100_000])
            if len(some):
                middle = numbers.Decimal(repr(float(some[len(some) // 2])))
                figures.middle_must_not_be_kpa(work, len(some), middle)
            return None
        low, high = {"temperature": (46, 114), "spo2": (0, 1)}[name]
        if not ((mine > low) & (mine <= high)).any():
            return None
        odd = (values > low) & (values <= high) & (True if mask is None else mask)
        percent = name == "spo2" and odd.sum() > 1 and odd.sum() == np.isfinite(mine[mine != 0]).sum()
    return _reread(grid, work, column, name, np.flatnonzero(odd), percent)


def _reread(grid: Grid, work: Work, column: str, name: str, positions: np.ndarray, percent: bool) -> None:
    if not len(positions):
        return
    values = grid.cells.column(column).to_numpy().copy()
    for value in np.unique(values[positions]):
        here = positions[values[positions] == value]
        text = numbers.plain(numbers.Decimal(repr(float(value))))
        try:
            read = readings.one(work, text, name, schema.PARAMETERS[name], None, ".", percent, len(here))
            values[here] = np.nan if read is None else float(read)
        except Unreadable as fault:
            values[here] = np.nan
            for position in here:
                work.fault(int(position), column, text, fault)
    place = grid.header.index(column)
    grid.cells = grid.cells.set_column(place, column, pa.array(values, from_pandas=True))


def _odd_cells(grid: Grid, work: Work, column: str, name: str, mask: np.ndarray | None) -> None:
    """Cells with a foreign unit: brought to ours and put among the numbers; others stay odd."""
    odd = grid.odd.get(column)
    if odd is None or not len(odd.positions):
        return
    positions = odd.positions.to_numpy(zero_copy_only=False)
    texts, kept, found = odd.texts.to_pylist(), [], {}
    for place, (position, text) in enumerate(zip(positions.tolist(), texts, strict=True)):
        number = numbers.parse(text) if mask is None or mask[position] else None
        if number is None or not number.unit or number.sign:
            kept.append(place)
            continue
        try:
            read = figures.read(work, text, name, schema.PARAMETERS[name], None, ".", 1)
        except Unreadable as fault:
            work.fault(position, column, text, fault)
            continue
        if read == text:
            kept.append(place)
        else:
            found[position] = float(read)
    if len(kept) == len(texts):
        return
    which = pa.array(kept, pa.int64())
    grid.odd[column] = Odd(odd.positions.take(which), odd.texts.take(which))
    if found:
        values = grid.cells.column(column).to_numpy().copy()
        values[list(found)] = list(found.values())
        place = grid.header.index(column)
        grid.cells = grid.cells.set_column(place, column, pa.array(values, from_pandas=True))
