"""Rows that cannot be loaded, kept as they stood with the reason; and flagged cells of rows that were."""

import numpy as np
import pyarrow as pa

from pipeline import schema
from pipeline.intake import findings as found
from pipeline.intake import headers
from pipeline.intake.cells import TypedGrid
from pipeline.intake.grid import Grid
from pipeline.intake.incoming import Incoming

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


def write(db, incoming: Incoming, typed: TypedGrid | None, grid: Grid, file_id: int, name: str) -> None:
    """One quarantine row a faulty source row: its first fault in the columns, all of them in the reason."""
    if incoming.problems and typed is not None:
        _write_problems(db, incoming, typed, grid, file_id, name)
    if grid.rejected:
        rows = [
            (
                file_id,
                name,
                line,
                incoming.table,
                None,
                None,
                None,
                why,
                REJECTED[why].format(line=line),
                text,
                None,
                None,
                None,
            )
            for line, text, why in grid.rejected
        ]
        db.executemany("INSERT INTO quarantine VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)


REJECTED = {
    "too_few_cells": "line {line} has fewer cells than the header; it may have been cut off",
    "too_many_cells": "line {line} has more cells than the header; a separator may stand inside a cell without quotes",
    "unbalanced_quote": "line {line} opens a quote that is not closed in the line or the next",
    "unreadable_byte": "line {line} holds a character that cannot be read",
}


def _write_problems(db, incoming: Incoming, typed: TypedGrid, grid: Grid, file_id: int, name: str) -> None:
    problems = incoming.problems
    flat = pa.table(
        {
            "unit": pa.array(np.concatenate([p.units for p in problems]), pa.int64()),
            "nth": pa.array(np.repeat(np.arange(len(problems)), [len(p.units) for p in problems])),
            "rule": pa.array(np.repeat([p.rule for p in problems], [len(p.units) for p in problems]), pa.string()),
            "column_name": pa.array(
                np.repeat([p.column for p in problems], [len(p.units) for p in problems]), pa.string()
            ),
            "value": pa.concat_arrays([p.values.cast(pa.string()) for p in problems]),
            "reason": pa.concat_arrays([p.reasons.cast(pa.string()) for p in problems]),
            "proposal": pa.concat_arrays([p.proposals.cast(pa.string()) for p in problems]),
        }
    )
    rows = _as_they_stood(incoming, typed, grid, np.unique(flat.column("unit").to_numpy()))
    db.register("faults", flat)
    db.register("stood", rows)
    cells = [column for column in rows.column_names if not column.startswith("_")]
    raw = "to_json(struct_pack(" + ", ".join(f'"{cell}" := s."{cell}"' for cell in cells) + "))"
    db.execute(
        f"""
        INSERT INTO quarantine
        SELECT {file_id}, ?, s._line, '{incoming.table}', s._case_id,
          f.column_name, f.value, f.rule, f.reason, {raw}, f.proposal, s._month_no, s._site
        FROM (
          SELECT unit, first(column_name ORDER BY nth) AS column_name, first(value ORDER BY nth) AS value,
            first(rule ORDER BY nth) AS rule, string_agg(reason, '; ' ORDER BY nth) AS reason,
            first(proposal ORDER BY nth) AS proposal
          FROM faults GROUP BY unit) AS f
        JOIN stood AS s ON s._unit = f.unit
        ORDER BY s._line
        """,
        [name],
    )
    db.unregister("faults")
    db.unregister("stood")


def _as_they_stood(incoming: Incoming, typed: TypedGrid, grid: Grid, units: np.ndarray) -> pa.Table:
    """The source rows as text, patient ids hidden, with what could be read of their case, month and site."""
    lines = grid.rows.to_numpy(zero_copy_only=False)
    if grid.before_rows is None and len(lines) == len(incoming.lines):
        positions = units
    else:
        # Rows of a mapped grid: the first grid row of each source row, if any of it is left.
        order = np.argsort(lines, kind="stable")
        found_at = np.searchsorted(lines[order], incoming.lines[units])
        there = (found_at < len(order)) & (lines[order][np.minimum(found_at, len(order) - 1)] == incoming.lines[units])
        units, positions = units[there], order[found_at[there]]
    take = pa.array(positions)
    texts = grid.texts(take)
    known = headers.columns_of(incoming.table)
    stood = {}
    for column in texts.column_names:
        if column in known and known[column].personal == "patient":
            stood[column] = typed.values[column].take(take).cast(pa.string())
        elif column in known:
            stood[column] = texts.column(column)
    nothing = pa.nulls(len(positions), pa.string())
    stood["_unit"] = pa.array(units)
    stood["_line"] = pa.array(incoming.lines[units])
    for column in ("case_id", "site"):
        values = typed.values.get(column)
        stood[f"_{column}"] = nothing if values is None else values.take(take).cast(pa.string())
    stood["_month_no"] = _month(typed, incoming.table, take)
    return pa.table(stood)


def _month(typed: TypedGrid, table: str, take: pa.Array) -> pa.Array:
    import pyarrow.compute as pc

    month = pa.nulls(len(take), pa.int64())
    for column in reversed(MONTH_FROM[table]):
        if column in typed.values:
            times = typed.values[column].take(take)
            number = pc.add(pc.multiply(pc.year(times), 12), pc.subtract(pc.month(times), 1))
            month = pc.coalesce(number, month)
    return month


def write_flags(db, incoming: Incoming, typed: TypedGrid, file_id: int, name: str) -> None:
    """Cells of class W, one row each."""
    lines = incoming.lines
    for finding in typed.findings:
        if finding.kind != "W" or not len(finding):
            continue
        column = headers.columns_of(incoming.table)[finding.column]
        texts = (
            finding.texts
            if finding.texts is not None
            else typed.values[finding.column].take(pa.array(finding.positions)).cast(pa.string())
        )
        distinct = texts.dictionary_encode()
        said = pa.array([found.reason(finding.rule, column, text) for text in distinct.dictionary.to_pylist()] + [None])
        case = typed.values.get("case_id")
        nothing = pa.nulls(len(finding), pa.string())
        flags = pa.table(
            {
                "line": pa.array(
                    lines[finding.positions]
                    if len(lines) == len(next(iter(typed.values.values())))
                    else finding.positions
                ),
                "case_id": nothing if case is None else case.take(pa.array(finding.positions)).cast(pa.string()),
                "value": nothing if column.personal else texts,
                "reason": said.take(distinct.indices.fill_null(len(said) - 1)),
                "proposal": finding.proposals if finding.proposals is not None else nothing,
            }
        )
        db.register("flags", flags)
        db.execute(
            f"""INSERT INTO flagged_cells SELECT {file_id}, ?, line, '{incoming.table}', case_id, '{finding.column}', value,
                '{finding.rule}', reason, proposal FROM flags ORDER BY line""",
            [name],
        )
        db.unregister("flags")


def is_child(table: str) -> bool:
    return table in schema.CHILD_TABLES
