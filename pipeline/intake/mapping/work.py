"""One grid on its way to our columns: cells by our names, what was done to them, and which could not be read."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake.grid import CellFault, Grid, Note
from pipeline.intake.headers import MENDING
from pipeline.intake.mapping.clinic_file import FileKind, Mapping
from pipeline.intake.mapping.distinct import Distinct, distinct

# What is said of flagged cells.
FLAGGED = {
    "age_differs": "the age and the birth date disagree; the age was kept",
    "age_impossible": "no age a patient of the species has; taken as unknown",
    "age_in_words": "an age in words; taken as unknown",
    "breed_of_other_species": "a breed of another species than charted; both were kept",
    "check_in_words": "a check without the figure measured; taken as unknown",
    "fraction_among_percent": "a fraction among percentages; taken as unknown",
    "midnight_placeholder": "a midnight out of order, a date without its time; taken as unknown",
    "pressure_unclear": "a pressure of unknown kind or order; taken as unknown",
    "route_unclear": "a route that may mean two things; taken as unknown",
    "several_drugs": "several drugs in one cell; kept as charted",
    "temperature_unclear": "no body temperature in Celsius nor in Fahrenheit; taken as unknown",
    "two_people": "two people in one cell; taken as unknown",
}


class Unreadable(Exception):
    """A cell only the clinic can mend. proposal: what it may have meant, never applied; flagged: the row
    stays and the cell is unknown (class W), instead of the row being quarantined."""

    def __init__(self, rule: str, reason: str, proposal: str = "", flagged: bool = False):
        self.rule, self.reason, self.proposal, self.flagged = rule, reason, proposal, flagged
        super().__init__(reason)


@dataclass
class Work:
    """cells: our column -> texts; header: our column -> as the file calls it; rows: line or sheet row of
    each row; declared: our column -> unit its header, unit line or mapping.toml names; ticks: event ->
    its column of ticks."""

    table: str
    grid: Grid
    kind: FileKind
    mapping: Mapping
    cells: dict[str, pa.Array]
    header: dict[str, str]
    rows: np.ndarray
    declared: dict[str, str] = field(default_factory=dict)
    notes: dict[tuple, list] = field(default_factory=dict)
    faults: list[CellFault] = field(default_factory=list)
    ticks: dict[str, pa.ChunkedArray] = field(default_factory=dict)
    set_aside: list[tuple[int, str]] = field(default_factory=list)
    repeated: bool = False

    def __len__(self) -> int:
        return len(self.rows)

    def column(self, name: str) -> schema.Column | None:
        """Our column of this name, or None for a helper such as 'day'."""
        return next((column for column in schema.TABLES[self.table].columns if column.name == name), None)

    def texts(self, name: str) -> list[str | None]:
        return self.cells[name].to_pylist()

    def note(self, rule: str, kind: str, column: str, sentence: str, count: int = 1, example: str = "") -> None:
        """Counts a rule's use; an example only of columns that cannot name a person."""
        entry = self.notes.setdefault((rule, kind, column, sentence), [0, []])
        entry[0] += int(count)
        if example and example not in entry[1] and len(entry[1]) < 2 and not self.is_personal(column):
            entry[1].append(example)

    def is_personal(self, name: str) -> bool:
        column = self.column(name)
        return bool(column and column.personal) or name == "birth_date"

    def shown(self, name: str, text: str) -> str:
        """A cell as a message may show it."""
        return "the cell (not shown, as it may name a person)" if self.is_personal(name) else repr(text[:60])

    def change(self, name: str, read: Callable[[str, int], str | None]) -> None:
        """The column with read(text, how often) in place of each distinct text; blank cells stay blank."""
        self._change(
            name, distinct(self.cells[name]), lambda key, count: None if key[0] is None else read(key[0], count)
        )

    def combine(self, name: str, others: tuple[str, ...], read: Callable[..., str | None]) -> None:
        """The column with read(texts of it and the others, how often) for each distinct combination."""
        self._change(name, distinct(self.cells[name], *(self.cells[other] for other in others)), read)

    def _change(self, name: str, found: Distinct, read: Callable) -> None:
        changed, faulty = [], {}
        for number, (key, count) in enumerate(zip(found.keys, found.counts, strict=True)):
            try:
                changed.append(read(key, count))
            except Unreadable as fault:
                changed.append(None)
                faulty[number] = (key[0] or "", fault)
        for number, (text, fault) in faulty.items():
            for position in np.flatnonzero(found.codes == number):
                self.fault(position, name, text, fault)
        self.cells[name] = found.spread(changed)

    def fault(self, position: int, name: str, text: str, fault: Unreadable) -> None:
        """Lists a cell that could not be read. A row that is nothing without the cell must not load."""
        column = self.column(name)
        needed = bool(column and column.required) or (self.table == "vitals" and name == "value")
        row, header = int(self.rows[position]), self.header.get(name, name)
        whole, kind = needed and not fault.flagged, "W" if fault.flagged else "Q"
        said = (fault.rule, fault.reason, fault.proposal)
        self.faults.append(CellFault(row, header, name, text, *said, whole_row=whole, kind=kind))

    def fault_each(self, name: str, found: Distinct, faults: dict[int, tuple[str, Unreadable]]) -> None:
        """Lists the cells of the combinations in faults (number of a key -> text and fault), row by row."""
        for position in np.flatnonzero(np.isin(found.codes, list(faults))).tolist() if faults else ():
            self.fault(position, name, *faults[int(found.codes[position])])

    def take(self, positions: np.ndarray) -> None:
        """Only these rows, in this order; a position may come twice."""
        which = pa.array(positions)
        self.cells = {name: cells.take(which) for name, cells in self.cells.items()}
        self.rows = self.rows[positions]
        self.repeated = self.repeated or len(np.unique(positions)) < len(positions)

    def made_notes(self) -> list[Note]:
        """What was done, once a rule and column; flagged cells are listed one by one elsewhere and counted here."""
        for fault in self.faults:
            if fault.kind == "W":
                self.note(fault.rule, "W", fault.column, f"{fault.column}: {FLAGGED[fault.rule]}.", 1, fault.value)
        return [Note(*key[:3], entry[0], key[3], tuple(entry[1])) for key, entry in self.notes.items()]

    def finished(self) -> Grid:
        """The grid of our columns. Cells that could not be read are NULL there, and as they stood in its texts."""
        known = [column.name for column in schema.TABLES[self.table].columns]
        wide = list(schema.PARAMETERS) if self.table == "vitals" and "parameter" not in self.cells else []
        cells = pa.table({name: self.cells[name] for name in [*known, *wide, *MENDING] if name in self.cells})
        rows = pa.array(self.rows, pa.int64())
        return replace(
            self.grid,
            cells=cells,
            rows=rows,
            odd={},
            set_aside=sorted([*self.grid.set_aside, *self.set_aside]),
            faults=[*self.grid.faults, *self.faults],
            notes=[*self.grid.notes, *self.made_notes()],
            mapping=self.kind.name,
            before_rows=rows if self.repeated else None,
            as_text=_as_it_stood(cells, rows, self.faults) if self.faults else None,
        )


def _as_it_stood(cells: pa.Table, rows: pa.Array, faults: list[CellFault]) -> Callable[[pa.Array], pa.Table]:
    """positions -> those rows as text, with the cells that could not be read as they stood."""
    unread = {}
    for fault in faults:
        unread.setdefault(fault.column, {})[fault.row] = fault.value

    def texts(positions: pa.Array) -> pa.Table:
        chosen, lines = cells.take(positions), rows.take(positions).to_pylist()
        columns = {}
        for name in chosen.column_names:
            column = chosen.column(name).cast(pa.string())
            if name in unread:
                stood = pa.array([unread[name].get(line) for line in lines], pa.string())
                column = pc.coalesce(column, stood)
            columns[name] = column
        return pa.table(columns)

    return texts
