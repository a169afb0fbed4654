"""Rows on their way into a table, each source row counted once, and what keeps some of them out."""

from dataclasses import dataclass, field

import numpy as np
import pyarrow as pa

from pipeline.intake.grid import Grid

NEW, UNCHANGED, REPLACED, QUARANTINED = 1, 2, 4, 8


@dataclass
class Problem:
    """Cells that keep their row, or themselves, out of the record. units: source rows; the rest one value a unit.
    keys: the key of what was kept out, where the rule knows it better than the row's own cells."""

    rule: str
    column: str
    units: np.ndarray
    values: pa.Array
    reasons: pa.Array
    proposals: pa.Array
    keys: pa.Array | None = None


@dataclass
class Flag:
    """One cell the mapping took as unknown or doubted (class W); its row loads."""

    line: int
    column: str
    value: str | None
    rule: str
    reason: str
    proposal: str


@dataclass
class Incoming:
    """rows: the stored columns of the table without provenance, and 'source_unit', the source row of each, where
    that is not its own position; good: which of them are still on their way, None for all (twenty million rows are
    not copied to leave out a few); lines: of each source row ("unit") in its file; state: what became of each unit
    (NEW, UNCHANGED, REPLACED, QUARANTINED, added up); absent: rows loaded before that the file should have.
    """

    table: str
    rows: pa.Table
    lines: np.ndarray
    state: np.ndarray
    problems: list[Problem] = field(default_factory=list)
    set_aside: list[tuple[int, str]] = field(default_factory=list)
    flags: list[Flag] = field(default_factory=list)
    good: np.ndarray | None = None
    absent: int = 0

    def mark(self, units: np.ndarray | slice, what: int) -> None:
        self.state[units] |= what

    def places(self, grid: Grid, units: np.ndarray) -> np.ndarray:
        """Grid position of the first row of each unit, -1 where a unit has none."""
        rows = grid.rows.to_numpy(zero_copy_only=False)
        if len(rows) == len(self.lines) and grid.before_rows is None:
            return units
        order = np.argsort(rows, kind="stable")
        at = np.searchsorted(rows[order], self.lines[units])
        there = (at < len(order)) & (rows[order][np.minimum(at, len(order) - 1)] == self.lines[units])
        return np.where(there, order[np.minimum(at, len(order) - 1)], -1) if len(order) else np.full(len(units), -1)

    def units(self, positions: np.ndarray | slice = slice(None)) -> np.ndarray | slice:
        """The source rows of these rows."""
        if "source_unit" not in self.rows.column_names:
            return positions
        return self.rows.column("source_unit").to_numpy()[positions]

    def keep(self, mask: np.ndarray) -> None:
        """Takes the rows where mask is false off their way."""
        if not mask.all():
            self.good = mask if self.good is None else self.good & mask

    def mask(self) -> np.ndarray:
        """True for every row still on its way."""
        return np.ones(self.rows.num_rows, bool) if self.good is None else self.good

    def on_their_way(self) -> pa.Table:
        """The rows with a column 'good', for a query to leave the others out."""
        good = pa.scalar(True) if self.good is None else None
        column = pa.array(self.good) if good is None else pa.repeat(good, self.rows.num_rows)
        return self.rows.append_column("good", column)
