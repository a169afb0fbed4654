"""Files to be mapped, opened as far as drafting needs: their tables, column names found by any clinic's words."""

import re
from pathlib import Path

from pipeline.intake import contents, headers, text_files
from pipeline.intake.encodings import decode
from pipeline.intake.grid import Grid
from pipeline.intake.mapping import layout, named

Found = tuple[Grid, dict[str, str], int]


def tables_in(path: Path) -> list[Found]:
    """(grid, header -> unit of a line of units, lines the names take) of every table in a file. Raises RefusedFile."""
    kind = contents.check(path)
    if kind in ("workbook", "old_workbook"):
        return _sheets(path)
    if kind in ("parquet", "json"):
        from pipeline.intake.readers import columnar

        if kind == "parquet":
            return [(columnar.parquet(path), {}, 1)]
        found, odd = columnar.json_lines(path)
        return [(columnar.records(path, found, odd), {}, 1)]
    return _text(path)


def is_word(name: str) -> bool:
    return bool(named.meanings(name)) or named.event_of(name) is not None


def is_ours(names: list[str], path: Path) -> bool:
    """Whether these column names are our own, so that no mapping is needed."""
    from pipeline.errors import RefusedFile

    clean = [headers.clean(name) for name in names if name]
    try:
        table = headers.table_of(clean, path)
    except RefusedFile:
        return False
    return all(name in headers.columns_of(table) for name in clean)


def header_of(rows: list, merged: list | tuple = ()) -> tuple[layout.Header, int] | None:
    """(header, how many of its names are known): on one line, or on two where the line above names groups."""
    found = layout.find(rows, is_word, 1, merged)
    if found and layout.takes_two(rows, found[0].last, merged):
        return layout.find(rows[: found[0].last + 2], is_word, 2, merged) or found
    return found


def _text(path: Path) -> list[Found]:
    from pipeline.intake.readers import mapped_text

    decoded, best = decode(path), None
    for separator in text_files.SEPARATORS:
        found = header_of(mapped_text.rows_of(decoded, separator))
        if found and (best is None or found[1] > best[1]):
            best = (*found, separator)
    if best is None:
        return []
    grid, units = mapped_text.grid_of(path, decoded, best[0], best[2])
    return [(grid, units, best[0].last - best[0].first + 1)]


def _sheets(path: Path) -> list[Found]:
    from pipeline.intake.readers import open_sheets, workbook

    tables = []
    for sheet in workbook.read(path):
        found = None if sheet.hidden else header_of(sheet.head(layout.LINES + 1), sheet.merged)
        if found:
            header = found[0]
            tables.append((open_sheets.grid_of(path, sheet, header), header.units, header.last - header.first + 1))
    return tables


def is_fhir(path: Path) -> bool:
    """Whether a file holds HL7 FHIR resources, told by its first bytes."""
    if contents.kind_of(contents.head_of(path)) not in ("json", "gzip", "zstandard"):
        return False
    return re.search(r'"resourceType"\s*:', decode(path).head(4096)) is not None
