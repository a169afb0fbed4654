"""The same tables as CSV and XLSX beside the page. Text that a spreadsheet would run as a formula is defused."""

import csv
import io
from datetime import date, datetime
from pathlib import Path

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
WIDEST = 60
"""Characters of the widest column of a sheet."""

XLSX_CREATED = datetime(2000, 1, 1)  # fixed, so that equal tables give equal bytes


def replace(path: Path, content: bytes) -> None:
    """Writes the file whole or not at all."""
    unfinished = path.with_name(path.name + ".new")
    unfinished.write_bytes(content)
    Path(unfinished).replace(path)


def defused(value):
    """Text that starts like a formula gets an apostrophe; numbers stay numbers.

    >>> defused("=1+1"), defused(-3)
    ("'=1+1", -3)
    """
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA_STARTS) else value


def flat(table, display) -> tuple[list[str], list[list]]:
    """Headings and rows with one plain value a cell: pairs become two columns, units as shown on the page."""
    from pipeline.reporting.frame import heading, raw

    headings = []
    for column in table.columns:
        name = heading(column, display)
        headings += [f"{name}: low", f"{name}: high"] if column.kind in ("interval", "range") else [name]
    rows = []
    for row in table.rows:
        out = []
        for value, column in zip(row, table.columns, strict=True):
            value = raw(value)
            if column.kind in ("interval", "range"):
                out += list(value) if isinstance(value, tuple | list) else [value, value]
            elif column.kind == "temperature" and not isinstance(value, str):
                out.append(display.celsius(value))
            elif column.kind == "weight" and not isinstance(value, str):
                out.append(display.kg(value))
            else:
                out.append(value)
        rows.append([steady(value) for value in out])
    return headings, rows


def steady(value):
    """A number to twelve digits: sums in another order differ beyond them, and equal input gives equal bytes.

    >>> steady(0.1 + 0.2), steady(80.70788043478261), steady(12), steady(None)
    (0.3, 80.7078804348, 12, None)
    """
    return float(f"{value:.12g}") if isinstance(value, float) else value


def csv_text(headings: list[str], rows: list[list]) -> str:
    """A flat table as CSV."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([defused(name) for name in headings])
    for row in rows:
        writer.writerow(["" if value is None else defused(_iso(value)) for value in row])
    return out.getvalue()


def _iso(value):
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    return value.isoformat() if isinstance(value, date) else value


def write_tables(name: str, tables: list, folder: Path, display) -> list[Path]:
    """NAME.xlsx with a sheet a table, and tables/NAME_ID.csv each; nothing when there is no table."""
    if not tables:
        return []
    (folder / "tables").mkdir(exist_ok=True)
    flats = [(table.id, *flat(table, display)) for table in tables]
    workbook = folder / f"{name}.xlsx"
    replace(workbook, xlsx_bytes(flats))
    paths = [workbook]
    for id, headings, rows in flats:
        path = folder / "tables" / f"{name}_{id}.csv"
        replace(path, csv_text(headings, rows).encode("utf-8"))
        paths.append(path)
    return paths


def xlsx_bytes(flats: list[tuple[str, list[str], list[list]]]) -> bytes:
    """A workbook with a sheet for each flat table (id, headings, rows)."""
    import xlsxwriter

    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(out, options) as book:
        book.set_properties({"created": XLSX_CREATED})
        bold = book.add_format({"bold": True, "bottom": 1})
        formats = {date: book.add_format({"num_format": "yyyy-mm-dd"})}
        formats[datetime] = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        taken: set[str] = set()
        for id, headings, rows in flats:
            sheet = book.add_worksheet(_sheet_name(id, taken))
            sheet.write_row(0, 0, headings, bold)
            sheet.freeze_panes(1, 0)
            for number, row in enumerate(rows, 1):
                for place, value in enumerate(row):
                    if isinstance(value, str):
                        sheet.write_string(number, place, value[:32_767])
                    elif isinstance(value, datetime | date):
                        sheet.write_datetime(number, place, value, formats[type(value)])
                    elif value is not None:
                        sheet.write(number, place, value)
            for place, column in enumerate(zip(headings, *rows, strict=True)):
                sheet.set_column(place, place, min(max(len(str(value)) for value in column) + 2, WIDEST))
    return out.getvalue()


def _sheet_name(wanted: str, taken: set[str]) -> str:
    """A sheet name of at most 31 characters, not used before."""
    name, number = wanted[:31], 2
    while name.lower() in taken:
        name, number = f"{wanted[:27]}_{number}", number + 1
    taken.add(name.lower())
    return name
