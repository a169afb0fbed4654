"""The same cells from .xls as xlwt writes it (BIFF8, Excel 97 to 2003) and from .ods as odfpy writes it (OpenDocument
1.2), as from .xlsx."""

import datetime as dt

import pytest
import xlsxwriter
import xlwt
from odf import number, style, table, text
from odf.opendocument import OpenDocumentSpreadsheet

from pipeline.intake.readers import workbook

HEADER = ["case_id", "species", "weight_kg", "induction_at", "born", "emergency", "at"]
ROWS = [
    ["A25-0001", "dog", 23.4, dt.datetime(2025, 3, 6, 8, 15, 30), dt.datetime(2019, 1, 31), True, dt.time(8, 5)],
    ["0007", "Kätzchen", 4, dt.datetime(2025, 12, 31, 23, 59), dt.datetime(2020, 2, 29), False, dt.time(23, 0)],
    ["A25-0003", None, None, None, dt.datetime(2021, 7, 1), None, None],
]
TEXTS = [
    ["case_id", "A25-0001", "0007", "A25-0003"],
    ["species", "dog", "Kätzchen", None],
    ["weight_kg", "23.4", "4", None],
    ["induction_at", "2025-03-06 08:15:30", "2025-12-31 23:59:00", None],
    ["born", "2019-01-31", "2020-02-29", "2021-07-01"],
    ["emergency", "true", "false", None],
    ["at", "08:05:00", "23:00:00", None],
]
FORMS = {3: "yyyy-mm-dd hh:mm:ss", 4: "yyyy-mm-dd", 6: "hh:mm"}


def write_xlsx(path):
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("Log")
        sheet.write_row(0, 0, HEADER)
        forms = {place: book.add_format({"num_format": form}) for place, form in FORMS.items()}
        for row, cells in enumerate(ROWS, 1):
            for place, cell in enumerate(cells):
                if cell is not None:
                    sheet.write(row, place, cell, forms.get(place))


def write_xls(path):
    book = xlwt.Workbook(encoding="utf-8")
    sheet = book.add_sheet("Log")
    forms = {place: xlwt.easyxf(num_format_str=form) for place, form in FORMS.items()}
    for row, cells in enumerate([HEADER, *ROWS]):
        for place, cell in enumerate(cells):
            if cell is not None:
                sheet.write(row, place, cell, forms.get(place, xlwt.Style.default_style) if row else xlwt.XFStyle())
    book.save(str(path))


def write_ods(path):
    book = OpenDocumentSpreadsheet()
    day = number.DateStyle(name="day")
    day.addElement(number.Year(style="long"))
    book.automaticstyles.addElement(day)
    dated = style.Style(name="dated", family="table-cell", datastylename="day")
    book.automaticstyles.addElement(dated)
    sheet = table.Table(name="Log")
    for cells in [HEADER, *ROWS]:
        row = table.TableRow()
        for cell in cells:
            row.addElement(ods_cell(cell, dated))
        sheet.addElement(row)
    book.spreadsheet.addElement(sheet)
    book.save(str(path))


def ods_cell(cell, dated):
    if cell is None:
        return table.TableCell()
    if isinstance(cell, bool):
        return table.TableCell(valuetype="boolean", booleanvalue=str(cell).lower())
    if isinstance(cell, dt.datetime):
        stamp = cell.date().isoformat() if cell.time() == dt.time() else cell.isoformat()
        return table.TableCell(valuetype="date", datevalue=stamp, stylename=dated)
    if isinstance(cell, dt.time):
        return table.TableCell(valuetype="time", timevalue=f"PT{cell.hour:02d}H{cell.minute:02d}M00S")
    if isinstance(cell, int | float):
        return table.TableCell(valuetype="float", value=cell)
    found = table.TableCell(valuetype="string")
    found.addElement(text.P(text=cell))
    return found


@pytest.mark.parametrize(("ending", "write"), [("xlsx", write_xlsx), ("xls", write_xls), ("ods", write_ods)])
def test_a_workbook_of_each_kind_gives_the_same_cells(tmp_path, ending, write):
    path = tmp_path / f"log.{ending}"
    write(path)
    (sheet,) = workbook.read(path)
    assert sheet.columns == TEXTS
