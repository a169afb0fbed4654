"""Cells of class W: kept as unknown or flagged while their row loads; listed one by one."""

import pyarrow as pa

from pipeline.intake import findings as found
from pipeline.intake import headers
from pipeline.intake.arrays import as_text
from pipeline.intake.cells import TypedGrid
from pipeline.intake.grid import Grid
from pipeline.intake.incoming import Incoming


def write(db, incoming: Incoming, typed: TypedGrid, grid: Grid, file_id: int, name: str) -> None:
    """One row in flagged_cells a cell of class W."""
    columns = headers.columns_of(incoming.table)
    for finding in typed.findings:
        if finding.kind != "W" or not len(finding):
            continue
        column, take = columns[finding.column], pa.array(finding.positions)
        texts = finding.texts
        if texts is None:
            texts = as_text(typed.values[finding.column].take(take))
        distinct = texts.dictionary_encode()
        said = [found.reason(finding.rule, column, text) for text in distinct.dictionary.to_pylist()] + [None]
        nothing = pa.nulls(len(finding), pa.string())
        case = typed.values.get("case_id")
        flags = pa.table(
            {
                "line": grid.rows.take(take),
                "case_id": nothing if case is None else case.take(take).cast(pa.string()),
                "value": nothing if column.personal else texts,
                "reason": pa.array(said).take(distinct.indices.fill_null(len(said) - 1)),
                "proposal": nothing if finding.proposals is None else finding.proposals,
            }
        )
        db.register("flags", flags)
        db.execute(
            f"""INSERT INTO flagged_cells SELECT {file_id}, ?, line, '{incoming.table}', case_id,
                '{finding.column}', value, '{finding.rule}', reason, proposal FROM flags ORDER BY line""",
            [name],
        )
        db.unregister("flags")
    rows = [
        (
            file_id,
            name,
            flag.line,
            incoming.table,
            flag.column,
            flag.value,
            flag.rule,
            flag.reason,
            flag.proposal or None,
        )
        for flag in incoming.flags
    ]
    if rows:
        db.executemany(
            """INSERT INTO flagged_cells (file_id, name, "row", table_name, column_name, value, rule, reason, proposal)
               VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)""",
            rows,
        )
