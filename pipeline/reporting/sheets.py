"""The same tables as CSV and XLSX beside the page. Text that a spreadsheet would run as a formula is defused."""

import csv
import hashlib
import io
import zipfile
from datetime import date, datetime
from functools import cache
from importlib.metadata import version
from pathlib import Path

WIDEST = 60
"""Characters of the widest column of a sheet."""

MADE_FROM = "Code of these tables: "
XLSX_CREATED = datetime(2000, 1, 1)  # fixed, so that equal tables give equal bytes

FORMULA_STARTS = frozenset("=+-@\t\r")


def replace(path: Path, content: bytes) -> None:
    """Writes the file whole or not at all; one that holds just this is left alone, as replacing one costs 2 ms."""
    if path.exists() and path.read_bytes() == content:
        return
    unfinished = path.with_name(path.name + ".new")
    unfinished.write_bytes(content)
    Path(unfinished).replace(path)


def defused(value):
    """Text that starts like a formula gets an apostrophe; numbers stay numbers.

    >>> defused("=1+1"), defused(-3)
    ("'=1+1", -3)
    """
    return f"'{value}" if isinstance(value, str) and value[:1] in FORMULA_STARTS else value


def flat(table, display) -> tuple[list[str], list[tuple]]:
    """Headings and rows with one plain value a cell: pairs become two columns, units as shown on the page."""
    from pipeline.reporting.cells import heading, raw

    headings, columns = [], []
    each = zip(*table.rows, strict=True) if table.rows else [()] * len(table.columns)
    for column, values in zip(table.columns, each, strict=True):
        name = heading(column, display)
        plain = [raw(value) for value in values]
        if column.kind in ("interval", "range"):
            pairs = [value if isinstance(value, tuple | list) else (value, value) for value in plain]
            headings += [f"{name}: low", f"{name}: high"]
            columns += [[steady(low) for low, _ in pairs], [steady(high) for _, high in pairs]]
            continue
        if column.kind in ("temperature", "weight"):
            shown = display.celsius if column.kind == "temperature" else display.kg
            plain = [value if isinstance(value, str) else shown(value) for value in plain]
        headings.append(name)
        columns.append([steady(value) for value in plain] if holds(plain, float) else plain)
    return headings, list(zip(*columns, strict=True))


def holds(column, kind: type) -> bool:
    """Whether a value of the column is of that type."""
    return any(issubclass(one, kind) for one in set(map(type, column)))


def steady(value):
    """A number to twelve digits: sums in another order differ beyond them, and equal input gives equal bytes.

    >>> steady(0.1 + 0.2), steady(80.70788043478261), steady(12), steady(None)
    (0.3, 80.7078804348, 12, None)
    """
    return float(f"{value:.12g}") if isinstance(value, float) else value


def csv_text(headings: list[str], rows: list) -> str:
    """A flat table as CSV."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([defused(name) for name in headings])
    writer.writerows(zip(*map(as_texts, zip(*rows, strict=True)), strict=True))
    return out.getvalue()


def as_texts(column):
    """A column as the CSV holds it."""
    if holds(column, str):
        column = [defused(value) for value in column]
    if holds(column, datetime):
        column = [value.isoformat(sep=" ", timespec="minutes") if isinstance(value, datetime) else value
                  for value in column]  # fmt: skip
    return column


def write_tables(name: str, tables: list, folder: Path, display) -> list[Path]:
    """NAME.xlsx with a sheet a table, and tables/NAME_ID.csv each; nothing when there is no table."""
    if not tables:
        return []
    flats = [(table.id, *flat(table, display)) for table in tables]
    return [write_workbook(name, flats, folder), *(write_csv(name, one, folder) for one in flats)]


def write_workbook(name: str, flats: list, folder: Path) -> Path:
    """NAME.xlsx with a sheet for each flat table (id, headings, rows); one made of just these is left alone, as making
    it takes a hundred times as long as asking."""
    path = folder / f"{name}.xlsx"
    code = code_of(flats)
    if not made_from(path, code):
        replace(path, xlsx_bytes(flats, code))
    return path


def code_of(flats: list) -> str:
    """A code over tables and what makes a workbook of them, which the workbook carries."""
    return hashlib.sha256(f"{maker()} {flats!r}".encode()).hexdigest()[:20]


@cache
def maker() -> str:
    """This file's own text and the version of the library."""
    return hashlib.sha256(Path(__file__).read_bytes()).hexdigest() + version("xlsxwriter")


def made_from(path: Path, code: str) -> bool:
    """Whether the workbook was made from tables of that code and not saved since: who saves one dates it."""
    try:
        with zipfile.ZipFile(path) as packed:
            said = packed.read("docProps/core.xml").decode("utf-8")
    except (OSError, KeyError, ValueError, zipfile.BadZipFile):
        return False
    return f">{MADE_FROM}{code}<" in said and said.count(f">{XLSX_CREATED:%Y-%m-%dT%H:%M:%SZ}<") == 2


def write_csv(name: str, one: tuple[str, list[str], list], folder: Path) -> Path:
    """tables/NAME_ID.csv of a flat table (id, headings, rows)."""
    id, headings, rows = one
    (folder / "tables").mkdir(exist_ok=True)
    path = folder / "tables" / f"{name}_{id}.csv"
    replace(path, csv_text(headings, rows).encode("utf-8"))
    return path


def xlsx_bytes(flats: list[tuple[str, list[str], list]], code: str = "") -> bytes:
    """A workbook with a sheet for each flat table (id, headings, rows); code: of these tables (code_of)."""
    import xlsxwriter

    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(out, options) as book:
        book.set_properties({"created": XLSX_CREATED, "comments": f"{MADE_FROM}{code}"})
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
