"""What every reader hands on: one table of text cells, and where each row stood in its file."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import pyarrow as pa


class Note(NamedTuple):
    """One thing a reader or the mapping did or found, told once a rule with its count.

    rule: id of the rule; kind: 'A' converted, 'N' by a rule a person may doubt, 'W' warned;
    examples: at most two, before -> after, never of an identifying column.
    """

    rule: str
    kind: str
    column: str
    count: int
    sentence: str
    examples: tuple[str, ...] = ()


class CellFault(NamedTuple):
    """A cell that could not be read, found before typing.

    row: where it stood; header: its column as the file calls it; column: ours; value: as it stood;
    rule, reason: why; proposal: what it may have meant, for the fix sheet, never applied.
    whole_row: the row must not load; otherwise the cell is NULL in the grid and the rest of its
    row loads, and the row counts as quarantined all the same.
    """

    row: int
    header: str
    column: str
    value: str
    rule: str
    reason: str
    proposal: str = ""
    whole_row: bool = False


@dataclass
class Grid:
    """A table of cells as they stood, before any column is typed.

    cells: one string column a header, NULL where the file holds nothing; rows: the line (text
    files) or sheet row each row of cells stood on; set_aside: (row, why) of lines that are no
    records (titles, units, totals, blanks); rejected: (row, raw text, why) of lines that could not
    be cut into cells; facts: encoding, separator, decimal sign, sheet, what was decided from what.
    faults: cells that could not be read; before, before_rows: the cells as they stood and their
    rows, where a mapping changed them (one wide row may have become many readings; rows then
    repeats its line), else None. mapping: the name of the file kind in mapping.toml, or ''.
    """

    file: Path
    part: str
    cells: pa.Table
    rows: pa.Array
    set_aside: list[tuple[int, str]] = field(default_factory=list)
    rejected: list[tuple[int, str, str]] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    facts: dict[str, str] = field(default_factory=dict)
    faults: list[CellFault] = field(default_factory=list)
    before: pa.Table | None = None
    before_rows: pa.Array | None = None
    mapping: str = ""

    @property
    def header(self) -> list[str]:
        return self.cells.column_names
