"""Text files read by mapping.toml: the separator and the header are those with its column names."""

import csv
import io
from pathlib import Path

import pyarrow as pa

from pipeline.intake import exact_lines, text_files
from pipeline.intake.encodings import Decoded, decode
from pipeline.intake.grid import Grid, Note
from pipeline.intake.mapping import layout, records
from pipeline.intake.mapping.apply import apply
from pipeline.intake.mapping.clinic_file import FileKind
from pipeline.intake.mapping.named import knows
from pipeline.intake.readers import no_kind


def read(path: Path, mapping, starts=None) -> list[tuple[str, Grid]]:
    """(table, grid) for every kind of mapping.toml this file is of; by our own names if it is of none."""
    kinds = [kind for kind in mapping.kinds(path) if kind.table]
    if not kinds:
        return [text_files.read(path)]
    grids, header = [], []
    for kind in kinds:
        decoded = decode(path, kind.encoding)
        found = find(decoded, kind)
        if found is None:
            header = header or [cell for row in rows_of(decoded, ",")[:1] for cell in row]
            continue
        grid, units = grid_of(path, decoded, *found)
        grids.append((kind.table, apply(grid, kind, mapping, units, starts=starts)))
    if not grids:
        raise no_kind(path, "", header)
    return grids


def rows_of(decoded: Decoded, separator: str, lines: int = layout.LINES + 2) -> list[list[str]]:
    """The first lines of a text, cut at a separator."""
    reader = csv.reader(io.StringIO(decoded.head(), newline=""), delimiter=separator)
    rows: list[list[str]] = []
    try:
        for cells in reader:
            if reader.line_num > lines:
                break
            rows += [[]] * (reader.line_num - len(rows) - 1) + [cells]
    except csv.Error:
        pass
    return rows


def find(decoded: Decoded, kind: FileKind) -> tuple[layout.Header, str] | None:
    """(header, separator) with the most of a kind's column names; None where not half of them are there."""
    best, most = None, 0
    for separator in [kind.separator] if kind.separator else text_files.SEPARATORS:
        found = layout.find(rows_of(decoded, separator), knows(kind), kind.header_rows, row=kind.header_row)
        if found and found[1] > most:
            best, most = (found[0], separator), found[1]
    return best if 2 * most >= len(kind.columns) + len(kind.events) else None


def grid_of(path: Path, decoded: Decoded, header: layout.Header, separator: str) -> tuple[Grid, dict[str, str]]:
    """(the lines below the header as text columns by their names, units of its line of units)."""
    names = [f"c{number}" for number in range(len(header.names))]
    cut = _cut(decoded, text_files.Layout(separator, header.body, names), list(range(len(names))))
    kept = {name: cut.cells.column(f"c{number}") for number, name in enumerate(header.names) if name}
    rejected, aside = [], []
    for line, text, why in cut.rejected:
        first = text.split(separator)[0].strip('" ')
        if first and records.is_row_word(first):
            aside.append((line, records.TOTAL))
        else:
            rejected.append((line, text, why))
    aside += [(line + 1, "title or column names") for line in range(header.last)]
    if header.units_line is not None:
        aside.append((header.units_line + 1, "line of units"))
    notes = list(decoded.notes)
    if header.last > header.first:
        notes.append(Note("two_row_header", "N", "", 1, "Column names on two lines were joined."))
    facts = {"encoding": decoded.encoding, "separator": text_files.SEPARATORS.get(separator, separator)}
    grid = Grid(path, "", pa.table(kept), cut.rows, sorted([*cut.set_aside, *aside]), rejected, notes, facts)
    return grid, header.units


def _cut(decoded: Decoded, found: text_files.Layout, wanted: list[int]) -> text_files.Cut:
    try:
        return text_files.cut(decoded, found, wanted, {})
    except text_files.NotPlain:
        return text_files.Cut(*exact_lines.cut(decoded, found.separator, found.line, len(found.names), wanted))
