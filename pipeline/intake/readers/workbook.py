"""XLSX, XLS and ODS through python-calamine: typed cells to exact text, merged ranges and hidden sheets known.

An id typed as a number stays '7', never '7.0'; a date cell becomes '2025-03-01 08:05:30' whatever its format;
what a spreadsheet could not compute keeps its own error text, so that typing can count it.
"""

import datetime as dt
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree.ElementTree import ParseError

import pyarrow as pa

from pipeline.errors import RefusedFile
from pipeline.intake.grid import Note
from pipeline.intake.readers.sheet_marks import Marks, marks


@dataclass
class Sheet:
    """One sheet as text, a list a column, None where empty; merged: ranges of merged cells, from 0."""

    name: str
    columns: list[list[str | None]]
    merged: list[tuple[tuple[int, int], tuple[int, int]]]
    notes: list[Note] = field(default_factory=list)
    serials: str = "1900"
    hidden: bool = False

    def head(self, rows: int) -> list[list[str | None]]:
        """The first rows, cell by cell."""
        return [list(row) for row in zip(*(column[:rows] for column in self.columns), strict=True)]

    def body(self, names: list[str], start: int) -> tuple[pa.Table, pa.Array]:
        """The rows from start (from 0) as one text column a name, and their sheet row numbers (from 1)."""
        kept = {
            name: pa.array(column[start:], pa.string())
            for name, column in zip(names, self.columns, strict=False)
            if name
        }
        length = len(self.columns[0]) if self.columns else 0
        return pa.table(kept), pa.array(range(start + 1, length + 1), pa.int64())


def read(path: Path) -> list[Sheet]:
    """The sheets of a workbook that hold something, hidden ones marked. Raises RefusedFile."""
    import python_calamine as calamine

    try:
        with calamine.CalamineWorkbook.from_path(str(path)) as book:
            found = marks(path)
            sheets = [
                _sheet(book.get_sheet_by_name(one.name), found.get(one.name, Marks()))
                for one in book.sheets_metadata
                if one.typ == calamine.SheetTypeEnum.WorkSheet
            ]
            hidden = {one.name for one in book.sheets_metadata if one.visible != calamine.SheetVisibleEnum.Visible}
    except calamine.PasswordError as cause:
        raise RefusedFile(
            where=path.name,
            found="a workbook locked with a password",
            wanted="a workbook that opens without one",
            fix="save it without a password, or export as CSV",
        ) from cause
    except (calamine.CalamineError, OSError, ValueError, zipfile.BadZipFile, ParseError) as cause:
        raise RefusedFile(
            where=path.name,
            found=f"a workbook that cannot be read ({cause})",
            wanted="a whole .xlsx, .xls or .ods file",
            fix="open it in the spreadsheet program, save it again as .xlsx, and load that",
        ) from cause
    for sheet in sheets:
        sheet.hidden = sheet.name in hidden
    return [sheet for sheet in sheets if sheet.columns]


def _sheet(sheet, found: Marks) -> Sheet:
    columns = [_column(cells) for cells in zip(*sheet.to_python(skip_empty_area=False), strict=True)]
    for row, column, text in found.broken:
        if column < len(columns) and row < len(columns[column]):
            columns[column][row] = text
    notes = []
    if found.hidden_rows:
        why = "Rows hidden or filtered away in the sheet were read like the others."
        notes.append(Note("hidden_rows", "N", "", found.hidden_rows, why))
    return Sheet(sheet.name, columns, sheet.merged_cell_ranges or [], notes, found.serials)


def _column(cells: tuple) -> list[str | None]:
    """The texts of a column. A day among times is its midnight: python-calamine drops a clock of 00:00."""
    kinds = set(map(type, cells))
    if kinds == {str}:
        return [cell or None for cell in cells]
    texts = dict(_TEXTS)
    if dt.datetime in kinds:
        texts[dt.date] = lambda value: f"{value.isoformat()} 00:00:00"
    return [texts[type(cell)](cell) for cell in cells]


def _number(value: float) -> str:
    """A number as shortest text that reads back the same; whole numbers without a decimal point."""
    return str(int(value)) if value.is_integer() and abs(value) < 1e16 else repr(value)


def _duration(value: dt.timedelta) -> str:
    """A clock past midnight as charted, hours running on: 26:00:00."""
    seconds = round(value.total_seconds())
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"


def _moment(value: dt.datetime) -> str:
    """To the second: a spreadsheet's day fractions are only good to some milliseconds."""
    if value.microsecond:
        value = (value + dt.timedelta(microseconds=500_000)).replace(microsecond=0)
    return value.isoformat(" ")


_TEXTS = {
    str: lambda text: text or None,
    float: _number,
    int: str,
    bool: lambda value: "true" if value else "false",
    dt.datetime: _moment,
    dt.date: dt.date.isoformat,
    dt.time: lambda value: value.isoformat("seconds"),
    dt.timedelta: _duration,
}
