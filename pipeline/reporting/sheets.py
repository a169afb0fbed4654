"""The same tables as CSV and XLSX beside the page. Text that a spreadsheet would run as a formula is defused."""

import csv
import io
from datetime import datetime
from pathlib import Path

from pipeline.reporting.workbook import workbook

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
    path = folder / f"{name}.xlsx"
    replace(path, workbook(flats))
    return path


def write_csv(name: str, one: tuple[str, list[str], list], folder: Path) -> Path:
    """tables/NAME_ID.csv of a flat table (id, headings, rows)."""
    id, headings, rows = one
    (folder / "tables").mkdir(exist_ok=True)
    path = folder / "tables" / f"{name}_{id}.csv"
    replace(path, csv_text(headings, rows).encode("utf-8"))
    return path
