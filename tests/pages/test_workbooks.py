"""Our workbooks say to other readers what was written."""

from datetime import date, datetime

import openpyxl
import pytest
from python_calamine import CalamineWorkbook

from pipeline.reporting import workbook as made

ROWS = [
    ('<b> & "x" \'', 3, -0.5, True, date(2026, 10, 3), datetime(2026, 10, 3, 6, 30)),
    ("=1+1", None, 1e-12, False, date(1999, 12, 31), None),
    (" two\nlines\t", 2**40, 80.7078804348, None, None, datetime(2000, 2, 29, 23, 59)),
    ("", 0, 0.1, True, date(2024, 2, 29), None),
]
HEADINGS = ["Text & words", "n", "mL", "yes", "Day", "At"]


@pytest.fixture
def path(tmp_path):
    (tmp_path / "x.xlsx").write_bytes(made.workbook([("one", HEADINGS, ROWS), ("none", ["Only"], [])]))
    return tmp_path / "x.xlsx"


def test_openpyxl_reads_every_value_with_its_kind(path):
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["one", "none"]
    found = list(book["one"].iter_rows(values_only=True))
    assert found[0] == tuple(HEADINGS)
    for row, wanted in zip(found[1:], ROWS, strict=True):
        days = [one.date() if number == 4 and one else one for number, one in enumerate(row)]
        assert days == list(wanted)
    assert [cell.data_type for cell in book["one"][3]][:3] == ["s", "n", "n"]  # no formula
    assert book["one"]["E2"].number_format == "yyyy-mm-dd" and book["one"]["A1"].font.b
    assert book["one"].freeze_panes == "A2"
    assert list(book["none"].iter_rows(values_only=True)) == [("Only",)]


def test_calamine_reads_the_same(path):
    found = CalamineWorkbook.from_path(str(path)).get_sheet_by_name("one").to_python()
    assert found[0] == HEADINGS
    assert [row[0] for row in found[1:]] == [row[0] for row in ROWS]
    assert found[1][4:] == [date(2026, 10, 3), datetime(2026, 10, 3, 6, 30)]


def test_what_xml_cannot_hold_is_written_as_its_number(tmp_path):
    (tmp_path / "x.xlsx").write_bytes(made.workbook([("t", ["a"], [("bell \x07",), ("_x0041_",)])]))
    found = CalamineWorkbook.from_path(str(tmp_path / "x.xlsx")).get_sheet_by_name("t").to_python()
    assert found[1:] == [["bell \x07"], ["_x0041_"]]


def test_equal_tables_give_equal_bytes_and_sheets_get_names_of_their_own(tmp_path):
    tables = [("a" * 40, ["x"], [(1,)]), ("A" * 40, ["x"], [(2,)])]
    assert made.workbook(tables) == made.workbook(tables)
    (tmp_path / "x.xlsx").write_bytes(made.workbook(tables))
    names = openpyxl.load_workbook(tmp_path / "x.xlsx").sheetnames
    assert len({name.lower() for name in names}) == 2 and max(map(len, names)) <= 31


def test_more_rows_than_a_sheet_holds_are_cut_with_a_line_that_says_so(monkeypatch, tmp_path):
    monkeypatch.setattr(made, "MOST_ROWS", 3)
    (tmp_path / "x.xlsx").write_bytes(made.workbook([("t", ["x", "y"], [(n, n) for n in range(5)])]))
    found = list(openpyxl.load_workbook(tmp_path / "x.xlsx").active.iter_rows(values_only=True))
    assert found == [("x", "y"), (0, 0), (1, 1), ("3 more rows: see the CSV of this table", None)]


def test_a_number_no_sheet_holds_is_refused():
    with pytest.raises(TypeError, match="NAN"):
        made.workbook([("t", ["x"], [(float("nan"),)])])
