"""Workbooks: which sheets are read, where their header stands, and what each becomes."""

from pathlib import Path

from pipeline.errors import RefusedFile
from pipeline.intake import headers
from pipeline.intake.grid import Grid, Note
from pipeline.intake.mapping import layout, records
from pipeline.intake.mapping.apply import apply
from pipeline.intake.mapping.clinic_file import FileKind
from pipeline.intake.mapping.named import knows
from pipeline.intake.readers import canonical, no_kind
from pipeline.intake.readers.workbook import Sheet
from pipeline.intake.readers.workbook import read as sheets_of


def read(path: Path, mapping, starts=None) -> list[tuple[str, Grid]]:
    """(table, grid) of every sheet that mapping.toml or our column names make sense of. Raises RefusedFile."""
    sheets = sheets_of(path)
    found, unread, first_header = [], [], []
    for sheet in sheets:
        kinds = [kind for kind in mapping.kinds(path, sheet.name) if kind.table]
        if sheet.hidden and not any(kind.sheet for kind in kinds):
            unread.append(f"{sheet.name} (hidden)")
            continue
        grids = _of_kinds(path, sheet, kinds, mapping, starts) if kinds else _canonical(path, sheet)
        if not grids:
            unread.append(sheet.name)
            first_header = first_header or [cell for row in sheet.head(1) for cell in row if cell]
        found += grids
    if not found:
        raise no_kind(path, "", first_header)
    if unread:
        why = f"Sheets that were not read: {', '.join(unread)}. Name one as sheet in mapping.toml to read it."
        found[0][1].notes.append(Note("sheet_not_read", "N", "", len(unread), why))
    return found


def _of_kinds(path: Path, sheet: Sheet, kinds: list[FileKind], mapping, starts) -> list[tuple[str, Grid]]:
    grids = []
    for kind in kinds:
        header = layout.find(sheet.head(layout.LINES + 1), knows(kind), kind.header_rows, sheet.merged, kind.header_row)
        if header is None or not _enough(header[1], kind):
            if kind.sheet:
                raise no_kind(path, sheet.name, [cell for row in sheet.head(1) for cell in row if cell])
            continue
        grid = grid_of(path, sheet, header[0])
        grid = _filled(grid, sheet, header[0], kind)
        grids.append((kind.table, apply(grid, kind, mapping, header[0].units, sheet.serials, starts)))
    return grids


def _enough(known: int, kind: FileKind) -> bool:
    """Whether a line with so many of a kind's column names is its header: half of them."""
    return 2 * known >= len(kind.columns) + len(kind.events)


def _canonical(path: Path, sheet: Sheet) -> list[tuple[str, Grid]]:
    def is_ours(name):
        return any(headers.clean(name) in headers.columns_of(table) for table in headers.schema.TABLES)

    found = layout.find(sheet.head(layout.LINES + 1), is_ours)
    if found is None:
        return []
    try:
        table, grid = canonical(grid_of(path, sheet, found[0]))
    except RefusedFile:
        if found[1] > 1:
            raise
        return []
    return [
        (table, records.only(grid, [name for name in ("case_id", "machine_id", "item") if name in grid.header][:1]))
    ]


def grid_of(path: Path, sheet: Sheet, header: layout.Header) -> Grid:
    cells, rows = sheet.body(header.names, header.body)
    aside = [(line + 1, "title or column names") for line in range(header.last)]
    if header.units_line is not None:
        aside.append((header.units_line + 1, "line of units"))
    notes = list(sheet.notes)
    if header.last > header.first:
        notes.append(Note("two_row_header", "N", "", 1, "Column names on two lines were joined."))
    return Grid(path, sheet.name, cells, rows, aside, notes=notes, facts={"sheet": sheet.name, "encoding": "workbook"})


def _filled(grid: Grid, sheet: Sheet, header: layout.Header, kind: FileKind) -> Grid:
    """Ids that the sheet merges over several rows, filled down on those rows."""
    places = {name: number for number, name in enumerate(header.names)}
    for name, target in kind.columns.items():
        if target != "case_id" or name not in places:
            continue
        rows = {
            row + 1
            for (top, left), (bottom, right) in sheet.merged
            if left <= places[name] <= right and top >= header.body
            for row in range(top + 1, bottom + 1)
        }
        if rows:
            grid = records.fill_down(grid, name, rows)
    return grid
