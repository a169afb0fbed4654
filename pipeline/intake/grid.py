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


@dataclass
class Grid:
    """A table of cells as they stood, before any column is typed.

    cells: one string column a header, NULL where the file holds nothing; rows: the line (text
    files) or sheet row each row of cells stood on; set_aside: (row, why) of lines that are no
    records (titles, units, totals, blanks); rejected: (row, raw text, why) of lines that could not
    be cut into cells; facts: encoding, separator, decimal sign, sheet, what was decided from what.
    """

    file: Path
    part: str
    cells: pa.Table
    rows: pa.Array
    set_aside: list[tuple[int, str]] = field(default_factory=list)
    rejected: list[tuple[int, str, str]] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    facts: dict[str, str] = field(default_factory=dict)

    @property
    def header(self) -> list[str]:
        return self.cells.column_names
