"""What every reader hands on: one table of cells, and where each row stood in its file."""

from collections.abc import Callable
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
    row loads, and the row counts as quarantined all the same. kind 'W': the cell is unknown and only
    flagged, and its row loads and counts as any other.
    """

    row: int
    header: str
    column: str
    value: str
    rule: str
    reason: str
    proposal: str = ""
    whole_row: bool = False
    kind: str = "Q"


class Odd(NamedTuple):
    """Cells of a number or time column that are not plain: where they stand (positions from 0), what they say."""

    positions: pa.Array
    texts: pa.Array


@dataclass
class Grid:
    """A table of cells as they stood, before any rule is applied.

    cells: one column a header, NULL where the file holds nothing. A column is text (string, or
    dictionary of strings), or already float64 or timestamp[us] (local wall time, no zone) where the
    file itself holds numbers or times; cells of such a column that are neither stand in odd and
    are NULL in cells. rows: the line (text files) or sheet row each row of cells stood on.
    set_aside: (row, why) of lines that are no records (titles, units, totals, blanks); rejected:
    (row, raw text, why) of lines that could not be cut into cells; facts: encoding, separator,
    decimal sign, sheet, what was decided from what.
    faults: cells that could not be read; before, before_rows: the cells as they stood and their
    rows, where a mapping changed them (one wide row may have become many readings; rows then
    repeats its line), else None. mapping: the name of the file kind in mapping.toml, or ''.
    as_text: for a reader that typed its columns itself, positions -> those rows as they stood, all text.
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
    odd: dict[str, Odd] = field(default_factory=dict)
    as_text: Callable[[pa.Array], pa.Table] | None = None

    @property
    def header(self) -> list[str]:
        return self.cells.column_names

    def texts(self, positions: pa.Array) -> pa.Table:
        """The rows at these positions, every cell as text."""
        if self.as_text:
            return self.as_text(positions)
        chosen = self.cells.take(positions.cast(pa.int64()))
        return pa.table({name: chosen.column(name).cast(pa.string()) for name in chosen.column_names})
