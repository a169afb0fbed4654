"""Rows that cannot be loaded, kept as they stood with the reason, and the keys by which a mended row finds them."""

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake import headers
from pipeline.intake.arrays import whole
from pipeline.intake.cells import TypedGrid
from pipeline.intake.grid import Grid
from pipeline.intake.incoming import Incoming
from pipeline.intake.keys import key_text

# Columns that place a row in time, first known first.
MONTH_FROM = {
    "cases": ("induction_at", "intubation_at", "vaporizer_on_at", "premed_at"),
    "case_people": ("from_at",),
    "vitals": ("taken_at",),
    "drugs": ("given_at",),
    "events": ("occurred_at",),
    "equipment": ("at",),
    "stock": ("at",),
}
# Source rows written to quarantine in one go.
AT_ONCE = 1 << 18
# Rule of a line that could not be cut into cells -> what is said of it.
REJECTED = {
    "too_few_cells": "line {line} has fewer cells than the header; it may have been cut off",
    "too_many_cells": "line {line} has more cells than the header; a separator may stand in a cell without quotes",
    "unbalanced_quote": "line {line} opens a quote that is not closed in that line or the next",
    "unreadable_byte": "line {line} holds a character that cannot be read",
}


def write(db, incoming: Incoming, typed: TypedGrid, grid: Grid, file_id: int, name: str) -> None:
    """One quarantine row a faulty source row: the first of its faults in the columns, all of them in the reason."""
    if incoming.problems:
        _write_problems(db, incoming, typed, grid, file_id, name)
    lines = [
        (
            file_id,
            name,
            line,
            incoming.table,
            why if why in REJECTED else "unreadable_line",
            rejected_reason(line, why),
            text,
        )
        for line, text, why in grid.rejected
    ]
    if lines:
        db.executemany(
            """INSERT INTO quarantine (file_id, name, "row", table_name, rule, reason, raw)
               VALUES (?, ?, ?, ?, ?, ?, ?)""",
            lines,
        )


def rejected_reason(line: int, why: str) -> str:
    return REJECTED[why].format(line=line) if why in REJECTED else f"line {line}: {why}"


def _write_problems(db, incoming: Incoming, typed: TypedGrid, grid: Grid, file_id: int, name: str) -> None:
    """Writes the problems of so many source rows at a time: a whole export may be without its cases."""
    units = np.unique(np.concatenate([problem.units for problem in incoming.problems]))
    for start in range(0, len(units), AT_ONCE):
        some = units[start : start + AT_ONCE]
        stood = _as_they_stood(incoming, typed, grid, some)
        cells = [column for column in stood.column_names if not column.startswith("_")]
        packed = "struct_pack(" + ", ".join(f'"{cell}" := s."{cell}"' for cell in cells) + ")"
        db.register("faults", _faults(incoming, some))
        db.register("stood", stood)
        db.execute(
            f"""
            INSERT INTO quarantine
            SELECT {file_id}, ?, s._line, '{incoming.table}', s._case_id,
              f.column_name, f.value, f.rule, f.reason,
              CASE WHEN s._there THEN to_json({packed}) ELSE to_json(map {{f.column_name: f.value}}) END,
              f.proposal, s._month_no, s._site
            FROM (
              SELECT unit, first(column_name ORDER BY nth) AS column_name, first(value ORDER BY nth) AS value,
                first(rule ORDER BY nth) AS rule, string_agg(reason, '; ' ORDER BY nth) AS reason,
                first(proposal ORDER BY nth) AS proposal
              FROM (SELECT * EXCLUDE (nth), min(nth) AS nth FROM faults GROUP BY ALL) GROUP BY unit) AS f
            JOIN stood AS s ON s._unit = f.unit
            ORDER BY s._line
            """,
            [name],
        )
        db.unregister("faults")
        db.unregister("stood")
    keys = _keys(incoming, typed, grid)
    if keys.num_rows:
        db.register("written", keys)
        db.execute(
            f"""INSERT INTO quarantine_keys
                SELECT DISTINCT {file_id}, line, '{incoming.table}', case_id, key FROM written"""
        )
        db.unregister("written")


def _faults(incoming: Incoming, units: np.ndarray) -> pa.Table:
    """One row a problem and source row of these, in the order the problems were found."""
    tables = []
    for nth, problem in enumerate(incoming.problems):
        mine = np.flatnonzero((problem.units >= units[0]) & (problem.units <= units[-1]))
        which = pa.array(mine)
        columns = {"value": problem.values, "reason": problem.reasons, "proposal": problem.proposals}
        tables.append(
            pa.table(
                {
                    "unit": pa.array(problem.units[mine].astype(np.int64)),
                    "nth": pa.array(np.full(len(mine), nth)),
                    "rule": pa.array([problem.rule] * len(mine), pa.string()),
                    "column_name": pa.array([problem.column] * len(mine), pa.string()),
                }
                | {name: whole(column.take(which)).cast(pa.string()) for name, column in columns.items()}
            )
        )
    return pa.concat_tables(tables)


def _as_they_stood(incoming: Incoming, typed: TypedGrid, grid: Grid, units: np.ndarray) -> pa.Table:
    """The source rows as text, patient ids hidden, with what could be read of their case, month and site."""
    places = incoming.places(grid, units)
    take = pa.array(np.maximum(places, 0), mask=places < 0)
    texts = grid.texts(take)
    known = headers.columns_of(incoming.table)
    stood = {}
    for column in texts.column_names:
        if column in known and known[column].personal == "patient":
            stood[column] = typed.values[column].take(take).cast(pa.string())
        elif column in known:
            stood[column] = texts.column(column)
    stood |= {"_unit": pa.array(units), "_line": pa.array(incoming.lines[units]), "_there": pa.array(places >= 0)}
    for column in ("case_id", "site"):
        values = typed.values.get(column)
        stood[f"_{column}"] = _nothing(len(units)) if values is None else values.take(take).cast(pa.string())
    stood["_month_no"] = _month(typed, incoming.table, take)
    return pa.table(stood)


def _nothing(length: int) -> pa.Array:
    return pa.nulls(length, pa.string())


def _month(typed: TypedGrid, table: str, take: pa.Array) -> pa.Array:
    """Local month number of each row: year x 12 + month - 1."""
    month = pa.nulls(len(take), pa.int64())
    for column in reversed(MONTH_FROM[table]):
        if column in typed.values:
            times = typed.values[column].take(take)
            month = pc.coalesce(pc.add(pc.multiply(pc.year(times), 12), pc.subtract(pc.month(times), 1)), month)
    return month


def _keys(incoming: Incoming, typed: TypedGrid, grid: Grid) -> pa.Table:
    """(line, case_id, key) of what the problems keep out, where it can be read."""
    table = schema.TABLES[incoming.table]
    found = []
    for problem in incoming.problems:
        if not table.key or problem.rule == "no_such_case":
            continue
        places = incoming.places(grid, problem.units)
        take = pa.array(np.maximum(places, 0), mask=places < 0)
        case = typed.values["case_id"].take(take).cast(pa.string())
        keys = problem.keys
        if keys is None:
            parts = {name: values.take(take) for name, values in _key_parts(table, typed).items()}
            if typed.wide or problem.column in schema.PARAMETERS:
                parts["parameter"] = pa.array([problem.column] * len(take), pa.string())
                if problem.column not in schema.PARAMETERS:
                    continue
            keys = key_text(table, parts)
        found.append(pa.table({"line": pa.array(incoming.lines[problem.units]), "case_id": case, "key": keys}))
    empty = pa.table({"line": pa.array([], pa.int64()), "case_id": _nothing(0), "key": _nothing(0)})
    return pa.concat_tables([empty, *found]).filter(pc.field("key").is_valid())


def _key_parts(table: schema.Table, typed: TypedGrid) -> dict[str, pa.Array]:
    """Key column -> its values, a time as its clock."""
    parts = {}
    for name in table.key:
        if name in typed.values:
            parts[name] = typed.clocks.get(name, typed.values[name])
    return parts
