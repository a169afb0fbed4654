"""A workbook (XLSX) of plain tables: bold headings that stay in sight, text, numbers, days. Text is never a formula."""

import io
from datetime import date, datetime

CREATED = datetime(2000, 1, 1)  # fixed, so that equal tables give equal bytes
OPTIONS = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
WIDEST = 60
"""Characters of the widest column of a sheet."""
LONGEST = 32_767
"""Characters a cell may hold."""
MOST_ROWS = 1_048_575
"""Rows a sheet may hold below its headings."""


def workbook(tables: list[tuple[str, list[str], list]]) -> bytes:
    """A workbook with a sheet for each table (name, headings, rows); equal tables give equal bytes.

    Raises TypeError for a number that no sheet holds, such as infinity.
    """
    import xlsxwriter

    out, names = io.BytesIO(), []
    with xlsxwriter.Workbook(out, OPTIONS) as book:
        book.set_properties({"created": CREATED})
        bold = book.add_format({"bold": True, "bottom": 1})
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        for name, headings, rows in tables:
            names.append(sheet_name(name, names))
            page = book.add_worksheet(names[-1])
            page.write_row(0, 0, headings, bold)
            page.freeze_panes(1, 0)
            fill(page, headings, fitting(rows), day, moment)
    return out.getvalue()


def fill(page, headings: list[str], rows: list, day, moment) -> None:
    """The cells below the headings, and columns as wide as what they hold. day, moment: formats."""
    text, number, yes_no, time = page.write_string, page.write_number, page.write_boolean, page.write_datetime
    columns = zip(*rows, strict=True) if rows else [()] * len(headings)
    for place, (heading, values) in enumerate(zip(headings, columns, strict=True)):
        for row, value in enumerate(values, 1):
            if isinstance(value, str):
                text(row, place, value[:LONGEST])
            elif isinstance(value, bool):
                yes_no(row, place, value)
            elif isinstance(value, date):
                time(row, place, value, moment if isinstance(value, datetime) else day)
            elif value is not None:
                number(row, place, value)
        longest = max((len(str(value)) for value in set(values)), default=0)
        page.set_column(place, place, min(max(longest, len(heading)) + 2, WIDEST))


def fitting(rows: list) -> list:
    """The rows; of more than a sheet holds the first, and a last one that says how many are not here."""
    if len(rows) <= MOST_ROWS:
        return rows
    kept = rows[: MOST_ROWS - 1]
    missing = f"{len(rows) - len(kept)} more rows: see the CSV of this table"
    return [*kept, [missing, *[None] * (len(rows[0]) - 1)]]


def sheet_name(wanted: str, taken: list[str]) -> str:
    """A sheet name of at most 31 characters, not used before."""
    name, number, used = wanted[:31], 2, {one.lower() for one in taken}
    while name.lower() in used:
        name, number = f"{wanted[:27]}_{number}", number + 1
    return name
