"""Which rows below the header are records: not blanks, repeated headers, totals, page lines, test patients.

Only rows whose key is blank, or says something no key says, are looked at one by one.
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from fnmatch import fnmatch

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.arrays import encoded
from pipeline.intake.grid import Grid, Note
from pipeline.intake.mapping import layout, numbers, words
from pipeline.intake.mapping.distinct import distinct

# Most keys look like this, and none that does begins a line of totals.
PLAIN_ID = r"^[A-Z]?[0-9]+(-[0-9]+)?$"
PAGE = re.compile(r"^\D{0,12}\s*\d+\s*(?:/|of|von|sur|de|van|di)\s*\d+$")
BLANK, REPEATED, TOTAL, TEST = "blank line", "column names repeated", "total, page or signature line", "test patient"
NOTES = {
    REPEATED: ("repeated_header", "A", "Lines that repeat the column names were set aside."),
    TOTAL: ("totals_line", "N", "Totals, page lines and signatures were set aside."),
    TEST: ("test_patient", "N", "Test patients were set aside, as mapping.toml asks."),
}


def only(
    grid: Grid, keys: Sequence[str], skip: Sequence[str] = (), tests: dict[str, Sequence[str]] | None = None
) -> Grid:
    """The grid with the lines that are no records moved to set_aside, in the order of the file.

    keys: headers of the columns that name a record; skip: further words that lines of totals begin
    with; tests: header -> patterns of ids that are no patients.
    """
    why: dict[int, str] = {}
    keys = [key for key in keys if key in grid.header]
    positions = suspects(grid, keys, skip)
    if len(positions):
        rows = grid.texts(pa.array(positions)).to_pylist()
        for position, row in zip(positions.tolist(), rows, strict=True):
            if reason := _reason(grid, position, row, keys, skip):
                why[position] = reason
    for header, patterns in (tests or {}).items():
        if header in grid.header:
            why |= dict.fromkeys(_matching(grid, header, patterns), TEST)
    return _without(grid, why)


def suspects(grid: Grid, keys: Sequence[str], skip: Sequence[str]) -> np.ndarray:
    """Positions of rows with a key cell that is blank, the column's own name, or a word of totals."""
    found = np.zeros(len(grid.rows), bool)
    for key in keys:
        codes, texts = encoded(grid.cells.column(key))
        hit = np.append(~pc.match_substring_regex(texts, PLAIN_ID).to_numpy(zero_copy_only=False), False)
        for code in np.flatnonzero(hit).tolist():
            cell = texts[code].as_py()
            hit[code] = _names(cell, key) or is_row_word(cell, skip)
        hit[-1] = grid.cells.column(key).null_count > 0
        if hit.any():
            found |= hit[codes]
    return np.flatnonzero(found)


def _reason(grid: Grid, position: int, row: dict, keys: Sequence[str], skip: Sequence[str]) -> str | None:
    cells = {name: words.tidy(cell) for name, cell in row.items() if cell and words.tidy(cell)}
    if not cells:
        return BLANK
    if len(cells) > 1 and all(_names(cell, name) for name, cell in cells.items()):
        return REPEATED
    if is_row_word(next(iter(cells.values())), skip) or _is_sum(grid, position, cells, keys):
        return TOTAL
    return None


def _names(cell: str, header: str) -> bool:
    """Whether a cell is its own column's name, whole or without the parent above it."""
    plain = re.sub(r" \(\d+\)$", "", header)
    return words.tidy(cell) in (plain, plain.rpartition(layout.JOINT)[2])


def is_row_word(cell: str, skip: Sequence[str] = ()) -> bool:
    """Whether a line that begins with this cell is a total, a page line or a signature.

    >>> is_row_word("Gesamt:"), is_row_word("Page 1 of 2"), is_row_word("A12")
    (True, True, False)
    """
    word = words.fold(cell).rstrip(":.")
    first = re.split(r"[\s:]", word, maxsplit=1)[0]
    own = [words.fold(str(one)) for one in skip]
    return bool({word, first} & words.of_kind("row").keys() or PAGE.match(word) or any(map(word.startswith, own)))


def _is_sum(grid: Grid, position: int, cells: dict[str, str], keys: Sequence[str]) -> bool:
    """Whether every number of a row without a key is the sum of two or more numbers above it."""
    figures = {name: numbers.parse(cell) for name, cell in cells.items()}
    if not keys or any(key in cells for key in keys) or None in figures.values():
        return False
    above = grid.texts(pa.array(range(position)))
    for name, figure in figures.items():
        column = [number.value for cell in above.column(name).to_pylist() if cell and (number := numbers.parse(cell))]
        if len(column) < 2 or sum(column) != figure.value:
            return False
    return True


def _matching(grid: Grid, header: str, patterns: Sequence[str]) -> list[int]:
    column = distinct(grid.cells.column(header))
    lower = [str(pattern).casefold() for pattern in patterns]
    hit = [any(fnmatch((cell or "").casefold(), pattern) for pattern in lower) for (cell,) in column.keys]
    return np.flatnonzero(np.array(hit, bool)[column.codes]).tolist() if any(hit) else []


def _without(grid: Grid, why: dict[int, str]) -> Grid:
    if not why:
        return grid
    numbers_of = grid.rows.take(pa.array(sorted(why))).to_pylist()
    aside = sorted([*grid.set_aside, *zip(numbers_of, (why[position] for position in sorted(why)), strict=True)])
    notes = list(grid.notes)
    for reason, (rule, kind, sentence) in NOTES.items():
        if count := sum(one == reason for one in why.values()):
            notes.append(Note(rule, kind, "", count, sentence))
    keep = np.setdiff1d(np.arange(len(grid.rows)), list(why))
    return replace(taken(grid, keep), set_aside=aside, notes=notes)


def taken(grid: Grid, positions: np.ndarray) -> Grid:
    """The grid with only the rows at these positions, its odd cells and its faults kept in step."""
    which, place = pa.array(positions), np.full(len(grid.rows), -1)
    place[positions] = np.arange(len(positions))
    odd = {}
    for name, cells in grid.odd.items():
        new = place[cells.positions.to_numpy(zero_copy_only=False)]
        odd[name] = type(cells)(pa.array(new[new >= 0]), cells.texts.filter(pa.array(new >= 0)))
    as_text = grid.as_text and (lambda some: grid.as_text(which.take(some)))
    return replace(grid, cells=grid.cells.take(which), rows=grid.rows.take(which), odd=odd, as_text=as_text)


def fill_down(grid: Grid, header: str, rows: set[int] | None = None) -> Grid:
    """The grid with blank cells of a text column filled from above, only on these sheet rows (all if None)."""
    filled, last, count = [], None, 0
    for row, cell in zip(grid.rows.to_pylist(), grid.cells.column(header).to_pylist(), strict=True):
        if cell is None and last is not None and (rows is None or row in rows):
            cell, count = last, count + 1
        last = cell
        filled.append(cell)
    if not count:
        return grid
    table = grid.cells.set_column(grid.header.index(header), header, pa.array(filled, pa.string()))
    why = "Blank cells were filled from the cell above, where the sheet merges them or mapping.toml says so."
    return replace(grid, cells=table, notes=[*grid.notes, Note("filled_down", "N", header, count, why)])
