"""CSV, TSV and their like with our column names: the header found, the separator chosen, the cells as a grid."""

import csv
import io
from pathlib import Path

import pyarrow as pa

from pipeline.errors import RefusedFile
from pipeline.intake import exact_lines, headers, identity, plain
from pipeline.intake.cutting import Cut, Layout, NotPlain, NotUtf8, again, cut
from pipeline.intake.encodings import Decoded, as_utf8, decode, head
from pipeline.intake.grid import Grid, Note

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe"}
HEADER_LINES = 30
# From this size on, a file is not looked at as a whole before it is cut, and the numbers and times of vitals are read
# as such at once, not as text first [bytes].
PLAIN_FROM = 8 << 20


def layout(text: str, path: Path) -> Layout:
    """The header among a file's first lines, and the separator under which it has most of our names."""
    best, best_known = None, -1
    for separator in SEPARATORS:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
        try:
            for cells in reader:
                if reader.line_num > HEADER_LINES:
                    break
                known = headers.known(headers.clean(cell) for cell in cells)
                if known > best_known and any(cells):
                    best, best_known = Layout(separator, reader.line_num, cells), known
        except csv.Error:
            continue
    if best is None:
        raise RefusedFile(
            where=path.name,
            found="no text in it",
            wanted="a line of column names and rows below it",
            fix="export it again",
        )
    return best


def table_of(path: Path) -> tuple[str, bool]:
    """(table, whether it is a sheet of ours for mending) of a text file, by its header alone. Raises RefusedFile."""
    names = [name for name in layout(head(path), path).clean if name]
    return headers.table_of(names, path), headers.is_mending(names)


def read(path: Path) -> tuple[str, Grid]:
    """(table, grid) of a text file with our column names. Raises RefusedFile."""
    large = path.stat().st_size >= PLAIN_FROM
    if large and (decoded := as_utf8(path)):
        try:
            return _read(decoded, large)
        except NotUtf8:
            decoded.stream.close()
    return _read(decode(path), large)


def _read(decoded: Decoded, large: bool) -> tuple[str, Grid]:
    path = decoded.path
    found = layout(decoded.head(), path)
    names = found.clean
    table = headers.table_of([name for name in names if name], path)
    columns = headers.columns_of(table)
    wanted = [number for number, name in enumerate(names) if name in columns or name in headers.MENDING]
    kinds = {}
    if large and table == "vitals":
        for number in wanted:
            kind = columns[names[number]].kind if names[number] in columns else "text"
            kinds[number] = kind if kind in plain.TYPES else "word"
    try:
        parts = cut(decoded, found, wanted, kinds)
    except NotPlain:
        kinds = {}
        parts = Cut(*exact_lines.cut(decoded, found.separator, found.line, len(found.names), wanted))
    chosen, notes = _chosen(parts.cells, wanted, names, path)
    grid = Grid(path, "", chosen, parts.rows, parts.set_aside, parts.rejected, decoded.notes + notes)
    grid.set_aside += [(line, "above the header") for line in range(1, found.line)]
    grid.odd = {names[int(name[1:])]: odd for name, odd in parts.odd.items()}
    grid.facts |= {"encoding": decoded.encoding, "separator": SEPARATORS[found.separator]}
    grid.notes += _unknown(names, table)
    if any(name not in columns or columns[name].personal == "patient" for name in names):
        # A line we could not cut may hold an owner or a patient id in any place.
        grid.rejected = [(line, "", why) for line, _, why in grid.rejected]
    if not chosen.num_rows and not parts.rejected:
        grid.notes.append(Note("F18", "W", "", 1, "The file holds column names but no rows; is that so?"))
    if kinds:
        grid.as_text = lambda positions: _chosen(
            again(decoded, found, wanted, parts.blocks, positions), wanted, names, path
        )[0]
    return table, grid


def _chosen(cells: pa.Table, wanted: list[int], names: list[str], path: Path) -> tuple[pa.Table, list[Note]]:
    """The wanted columns under their clean names; of two with one name and equal cells, the first."""
    kept, notes = {}, []
    for number in wanted:
        name, column = names[number], cells.column(f"c{number}")
        if name not in kept:
            kept[name] = column
        elif kept[name].equals(column):
            notes.append(Note("F13", "N", name, 1, f"The column {name} stands twice with equal cells; one was read."))
        else:
            raise RefusedFile(
                where=f"{path.name}, header",
                found=f"the column {name} twice, with different cells",
                wanted="to know which of the two is meant",
                fix="rename or delete one of them in the export, or map the file with `rounds map`",
            )
    return pa.table(kept), notes


def _unknown(names: list[str], table: str) -> list[Note]:
    """A note for every column that is not loaded."""
    columns, notes = headers.columns_of(table), []
    for name in dict.fromkeys(names):
        if not name or name in columns or name in headers.MENDING:
            continue
        if identity.names_an_owner(name):
            notes.append(Note("P21", "N", "", 1, f"The column {name} may name an owner; it was not loaded."))
            continue
        near = headers.nearest(name, table)
        hint = f" Is {near} meant?" if near and near not in names else ""
        notes.append(Note("F14", "N", "", 1, f"The column {name} is none of ours; it was not loaded.{hint}"))
    return notes
