"""Typed cells of workbooks to exact text, against what openpyxl and xlsxwriter wrote."""

import datetime as dt
import zipfile

import pytest
import xlsxwriter
from openpyxl import Workbook

from pipeline.errors import RefusedFile
from pipeline.intake.readers import workbook


@pytest.fixture
def book(tmp_path):
    """book(fill, **options) -> the sheets of a workbook that fill(book, sheet) wrote with xlsxwriter."""

    def made(fill, **options):
        path = tmp_path / "book.xlsx"
        with xlsxwriter.Workbook(str(path), options) as written:
            fill(written, written.add_worksheet("Log"))
        return workbook.read(path)

    return made


def test_ids_numbers_and_words_keep_their_text(book):
    cells = [7, 7.5, 0.1 + 0.2, 123456789012, "007", "NA", True, "  x ", None]

    def fill(written, sheet):
        sheet.write_column(0, 0, cells)

    # 0.1 + 0.2 is stored as 0.3: a workbook keeps 16 significant figures
    assert book(fill)[0].columns[0] == ["7", "7.5", "0.3", "123456789012", "007", "NA", "true", "  x "]


def test_dates_by_their_value_whatever_their_format(book):
    moment = dt.datetime(2025, 3, 1, 8, 5, 30)

    def fill(written, sheet):
        for row, form in enumerate(("dd.mm.yyyy hh:mm", "m/d/yy", "hh:mm", "[h]:mm")):
            sheet.write_datetime(row, 0, moment, written.add_format({"num_format": form}))
        day = written.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        sheet.write_datetime(4, 0, dt.datetime(2025, 3, 2), day)
        sheet.write_datetime(0, 1, dt.datetime(2025, 3, 2), day)
        sheet.write_datetime(0, 2, dt.time(8, 15), written.add_format({"num_format": "hh:mm"}))
        sheet.write_datetime(0, 3, dt.timedelta(hours=26), written.add_format({"num_format": "[h]:mm"}))

    columns = book(fill)[0].columns
    assert columns[0][:2] == ["2025-03-01 08:05:30"] * 2
    assert columns[0][4] == "2025-03-02 00:00:00"  # a midnight among times
    assert columns[1][0] == "2025-03-02"  # a day among days
    assert (columns[2][0], columns[3][0]) == ("08:15:00", "26:00:00")


@pytest.mark.parametrize("old", [False, True])
def test_1900_and_1904_days_are_the_same_day(book, old):
    def fill(written, sheet):
        form = written.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        sheet.write_datetime(0, 0, dt.datetime(2025, 3, 1, 8, 5), form)

    (sheet,) = book(fill, date_1904=old)
    assert sheet.columns[0] == ["2025-03-01 08:05:00"]
    assert sheet.serials == ("1904" if old else "1900")


def test_error_cells_and_formulas_never_computed_keep_a_text(tmp_path):
    written = Workbook()
    for row in ([1, "=A1*1.7"], [2, "#DIV/0!"]):
        written.active.append(row)
    written.active["B2"].data_type = "e"
    written.save(tmp_path / "book.xlsx")
    (sheet,) = workbook.read(tmp_path / "book.xlsx")
    assert sheet.columns[1] == ["=formula", "#DIV/0!"]


def test_merged_ranges_hidden_sheets_and_rows_are_known(book):
    def fill(written, sheet):
        sheet.merge_range(0, 1, 0, 2, "Vitals")
        sheet.write_row(1, 0, ["case", "HR", "SpO2"])
        sheet.set_row(1, None, None, {"hidden": True})
        other = written.add_worksheet("old")
        other.write(0, 0, "x")
        other.very_hidden()

    first, second = book(fill)
    assert first.merged == [((0, 1), (0, 2))]
    assert [note.rule for note in first.notes] == ["hidden_rows"]
    assert (first.hidden, second.hidden) == (False, True)


def test_open_document_sheets(tmp_path):
    """A spreadsheet as ODF 1.2 lays it out (OASIS): office:value-type float, date and string."""
    cells = (
        '<table:table-cell office:value-type="float" office:value="7"/>'
        '<table:table-cell office:value-type="date" office:date-value="2025-03-01T08:05:00"/>'
        '<table:table-cell office:value-type="string"><text:p>007</text:p></table:table-cell>'
    )
    names = " ".join(f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{long}:1.0"'
                     for short, long in (("office", "office"), ("table", "table"), ("text", "text")))  # fmt: skip
    content = (
        f'<?xml version="1.0"?><office:document-content {names} office:version="1.2"><office:body><office:spreadsheet>'
        f'<table:table table:name="Log"><table:table-row>{cells}</table:table-row></table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    with zipfile.ZipFile(tmp_path / "log.ods", "w") as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        book.writestr("META-INF/manifest.xml", "<manifest/>")
        book.writestr("content.xml", content)
    (sheet,) = workbook.read(tmp_path / "log.ods")
    assert [column[0] for column in sheet.columns] == ["7", "2025-03-01 08:05:00", "007"]


@pytest.mark.parametrize("content", [b"PK\x03\x04 cut short", b"\xd0\xcf\x11\xe0" + b"\0" * 100])
def test_a_broken_workbook_is_refused_with_a_sentence(tmp_path, content):
    (tmp_path / "log.xlsx").write_bytes(content)
    with pytest.raises(RefusedFile, match="cannot be read"):
        workbook.read(tmp_path / "log.xlsx")
