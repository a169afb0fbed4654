"""Typed cells as rows ready for a table: wide vitals made long, faulty rows set apart, lines that are none left out."""

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake import findings as found
from pipeline.intake import headers, words
from pipeline.intake.arrays import rises
from pipeline.intake.cells import TypedGrid
from pipeline.intake.findings import Finding
from pipeline.intake.grid import Grid
from pipeline.intake.incoming import QUARANTINED, Flag, Incoming, Problem


class Own:
    """The source row of each row where that is its own position, without an array that says so."""

    def __init__(self, length: int):
        self.length = length

    def __len__(self) -> int:
        return self.length

    def __getitem__(self, positions) -> np.ndarray:
        return np.asarray(positions, np.int64)


def assemble(typed: TypedGrid, grid: Grid) -> Incoming:
    """The rows of a typed grid; rows with a cell that cannot be read are problems instead."""
    table = schema.TABLES[typed.table]
    n = grid.cells.num_rows
    lines, unit_of = _units(grid)
    incoming = Incoming(typed.table, pa.table({}), lines, np.zeros(len(lines), np.uint8), [], list(grid.set_aside))
    parameters = [name for name in typed.values if typed.wide and name in schema.PARAMETERS]
    bad = np.zeros(n, bool)
    columns = headers.columns_of(typed.table)
    for finding in typed.findings:
        if finding.kind == "Q":
            if finding.column not in parameters:
                bad[finding.positions] = True
            incoming.problems.append(_problem(finding, columns[finding.column], unit_of))
    gone = _no_records(typed, grid, table, bad)
    _forget(incoming, unit_of[[position for position, _ in gone]])
    bad[[position for position, _ in gone]] = False
    for position, why in gone:
        incoming.set_aside.append((int(grid.rows[position].as_py()), why))
    keep = np.ones(n, bool)
    keep[[position for position, _ in gone]] = False
    for name in headers.required_of(typed.table, typed.values):
        empty = typed.values[name].is_null().to_numpy(zero_copy_only=False) & ~bad & keep
        if empty.any():
            incoming.problems.append(_missing(columns[name], unit_of[np.flatnonzero(empty)]))
            bad |= empty
    _take_faults(incoming, grid, bad, unit_of)
    _forget(incoming, unit_of[[position for position, _ in gone]])
    for problem in incoming.problems:
        incoming.mark(problem.units, QUARANTINED)
    keep &= ~bad
    stored = _stored(table, typed, unit_of)
    if parameters:
        stored.setdefault("source_unit", pa.array(np.arange(n)))
        incoming.rows = _long(typed, parameters, stored, keep)
    else:
        incoming.rows = pa.table(stored)
        incoming.keep(keep)
    return incoming


def _forget(incoming: Incoming, units: np.ndarray) -> None:
    """Drops the problems of source rows that turned out to be no records."""
    if not len(units):
        return
    for problem in incoming.problems:
        stays = ~np.isin(problem.units, units)
        mask = pa.array(stays)
        problem.units = problem.units[stays]
        problem.values, problem.reasons = problem.values.filter(mask), problem.reasons.filter(mask)
        problem.proposals = problem.proposals.filter(mask)
    incoming.problems = [problem for problem in incoming.problems if len(problem.units)]


def _units(grid: Grid) -> tuple[np.ndarray, "np.ndarray | Own"]:
    """(line of each source row, source row of each grid row). A mapped wide line stands on many grid rows."""
    rows = grid.rows.to_numpy(zero_copy_only=False)
    every = rows if grid.before_rows is None else grid.before_rows.to_numpy(zero_copy_only=False)
    if grid.before_rows is None and (not len(rows) or rises(rows)):
        return rows, Own(len(rows))
    lines = np.unique(every)
    return lines, np.searchsorted(lines, rows)


def _problem(finding: Finding, column: schema.Column, unit_of: np.ndarray | Own) -> Problem:
    units = unit_of[finding.positions]
    nothing = pa.nulls(len(units), pa.string())
    texts = finding.texts if finding.texts is not None else nothing
    distinct = texts.dictionary_encode()
    said = pa.array([found.reason(finding.rule, column, text) for text in distinct.dictionary.to_pylist()] + [None])
    reasons = pa.DictionaryArray.from_arrays(distinct.indices.fill_null(len(said) - 1), said)
    values = nothing if column.personal else texts
    return Problem(finding.rule, column.name, units, values, reasons, finding.proposals or nothing)


def _missing(column: schema.Column, units: np.ndarray) -> Problem:
    said = pa.array([f"{column.name} is empty, and a row without it cannot be placed"]).take(pa.array(units * 0))
    nothing = pa.nulls(len(units), pa.string())
    return Problem("missing_required", column.name, units, nothing, said, nothing)


def _no_records(typed: TypedGrid, grid: Grid, table: schema.Table, bad: np.ndarray) -> list[tuple[int, str]]:
    """Positions of repeated headers and blank rows. Only rows whose key column looks like one are looked at."""
    first = next((name for name in table.required if name in typed.values), None)
    if first is None:
        return []
    key = typed.values[first]
    gone = []
    if pa.types.is_dictionary(key.type):
        # No name of a column ends in a figure, as most ids do.
        other = pc.invert(pc.fill_null(pc.match_substring_regex(key.dictionary, "^[ -~]*[0-9]$"), True))
        codes = np.flatnonzero(other).tolist()
        named = [code for code in codes if headers.clean(key.dictionary[code].as_py()) == first]
        if named:
            hits = pc.is_in(key.indices, pa.array(named, key.indices.type))
            gone += [(int(position), "the header again") for position in np.flatnonzero(hits)]
    if key.null_count:
        empty = np.flatnonzero(key.is_null().to_numpy(zero_copy_only=False) & ~bad)
        if len(empty):
            texts = grid.texts(pa.array(empty))
            blank = np.ones(len(empty), bool)
            for name in set(texts.column_names) - set(headers.MENDING):
                column = texts.column(name)
                blank &= pc.equal(pc.utf8_length(pc.utf8_trim_whitespace(column.fill_null(""))), 0).to_numpy()
            gone += [(int(position), "blank") for position in empty[blank]]
    if typed.table == "events" and not pa.types.is_null(key.type):
        gone += _no_events(typed, grid)
    return gone


def _no_events(typed: TypedGrid, grid: Grid) -> list[tuple[int, str]]:
    """Rows that say in as many words that nothing happened: no complication, and no fault."""
    empty = np.flatnonzero(typed.values["event"].is_null().to_numpy(zero_copy_only=False))
    if not len(empty):
        return []
    texts = grid.texts(pa.array(empty)).column("event").to_pylist()
    said = {"none", *words.of_kind("none_event")}
    return [
        (int(position), "says that nothing happened")
        for position, text in zip(empty, texts, strict=True)
        if text and text.strip().casefold() in said
    ]


def _take_faults(incoming: Incoming, grid: Grid, bad: np.ndarray, unit_of: np.ndarray | Own) -> None:
    """Cells the mapping could not read: flagged, or problems of their rows."""
    columns = headers.columns_of(incoming.table)
    by_rule: dict[tuple[str, str], list] = {}
    lines = set(incoming.lines.tolist()) if grid.faults else ()
    for fault in grid.faults:
        personal = fault.column in columns and columns[fault.column].personal
        value = None if personal else fault.value
        if fault.kind == "W":
            incoming.flags.append(Flag(fault.row, fault.column, value, fault.rule, fault.reason, fault.proposal))
        elif fault.row in lines:
            by_rule.setdefault((fault.rule, fault.column), []).append((fault, value))
    whole_rows = [fault.row for faults in by_rule.values() for fault, _ in faults if fault.whole_row]
    if whole_rows:
        bad[np.isin(incoming.lines[unit_of[np.arange(len(bad))]], whole_rows)] = True
    for (rule, column), faults in by_rule.items():
        units = np.searchsorted(incoming.lines, [fault.row for fault, _ in faults])
        incoming.problems.append(
            Problem(
                rule,
                column,
                units,
                pa.array([value for _, value in faults], pa.string()),
                pa.array([fault.reason for fault, _ in faults], pa.string()),
                pa.array([fault.proposal or None for fault, _ in faults], pa.string()),
            )
        )


def _stored(table: schema.Table, typed: TypedGrid, unit_of: np.ndarray | Own) -> dict[str, pa.Array]:
    n = len(unit_of)
    kinds = {"BIGINT": pa.int64(), "DOUBLE": pa.float64(), "VARCHAR": pa.string(), "BOOLEAN": pa.bool_(),
             "TIMESTAMP": pa.timestamp("us"), "DATE": pa.date32()}  # fmt: skip
    stored = {}
    for name, kind in schema.stored_columns(table):
        if name in dict(schema.PROVENANCE):
            continue
        clock = name.removesuffix("_s")
        if name in typed.values:
            stored[name] = typed.values[name]
        elif clock in typed.clocks and name.endswith("_s"):
            stored[name] = typed.clocks[clock]
        else:
            stored[name] = pa.nulls(n, kinds[kind])
    return stored if isinstance(unit_of, Own) else stored | {"source_unit": pa.array(unit_of)}


def _long(typed: TypedGrid, parameters: list[str], stored: dict[str, pa.Array], keep: np.ndarray) -> pa.Table:
    """One row a reading, in the order of the file; empty cells are no readings."""
    filled = np.column_stack([typed.values[name].is_valid().to_numpy(zero_copy_only=False) for name in parameters])
    filled &= keep[:, None]
    position, which = np.nonzero(filled)
    numbers = np.column_stack([typed.values[name].fill_null(0).to_numpy(zero_copy_only=False) for name in parameters])
    take = pa.array(position)
    long = {name: values.take(take) for name, values in stored.items() if name not in ("parameter", "value")}
    long["parameter"] = pa.DictionaryArray.from_arrays(pa.array(which.astype(np.int32)), pa.array(parameters))
    long["value"] = pa.array(numbers[filled])
    return pa.table({name: long[name] for name in stored})
