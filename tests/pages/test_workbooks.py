"""Workbooks say to other readers what was written, and are made again only where something is another."""

import os
from datetime import date, datetime

import openpyxl
import pytest

from pipeline.reporting import sheets

HEADINGS = ["Text & words", "n", "mL", "yes", "Day", "At"]
ROWS = [
    ('<b> & "x" \'', 3, -0.5, True, date(2026, 10, 3), datetime(2026, 10, 3, 6, 30)),
    ("=1+1", None, 1e-12, False, date(1999, 12, 31), None),
    (" two\nlines", 2**40, 80.7078804348, None, None, datetime(2000, 2, 29, 23, 59)),
]


def test_another_reader_finds_every_value_with_its_kind(tmp_path):
    path = sheets.write_workbook("x", [("one", HEADINGS, ROWS), ("none", ["Only"], [])], tmp_path)
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["one", "none"]
    found = list(book["one"].iter_rows(values_only=True))
    assert found[0] == tuple(HEADINGS)
    for row, wanted in zip(found[1:], ROWS, strict=True):
        assert [one.date() if place == 4 and one else one for place, one in enumerate(row)] == list(wanted)
    assert list(book["none"].iter_rows(values_only=True)) == [("Only",)]


@pytest.fixture
def old(tmp_path):
    """A workbook of one row, dated long ago."""
    path = sheets.write_workbook("x", [("t", ["a"], [(1,)])], tmp_path)
    os.utime(path, (1, 1))
    return path


def test_a_workbook_of_the_same_tables_is_left_alone(old):
    sheets.write_workbook("x", [("t", ["a"], [(1,)])], old.parent)
    assert old.stat().st_mtime == 1


@pytest.mark.parametrize(
    "table", [("t", ["a"], [(2,)]), ("t", ["a"], [(1.0,)]), ("t", ["b"], [(1,)]), ("u", ["a"], [(1,)])]
)
def test_other_rows_kinds_headings_or_names_are_written(old, table):
    sheets.write_workbook("x", [table], old.parent)
    book = openpyxl.load_workbook(old)
    assert old.stat().st_mtime > 1
    assert [book.sheetnames[0], *(cell.value for (cell,) in book.active.iter_rows())] == [table[0], table[1][0],
                                                                                         table[2][0][0]]  # fmt: skip


def test_a_workbook_that_somebody_saved_is_written_again(old):
    book = openpyxl.load_workbook(old)
    book.active["A2"] = 99
    book.save(old)
    sheets.write_workbook("x", [("t", ["a"], [(1,)])], old.parent)
    assert openpyxl.load_workbook(old).active["A2"].value == 1


def test_a_broken_or_missing_workbook_and_one_of_another_version_are_written(old, monkeypatch):
    old.write_bytes(b"PK no more")
    sheets.write_workbook("x", [("t", ["a"], [(1,)])], old.parent)
    assert openpyxl.load_workbook(old).active["A2"].value == 1
    os.utime(old, (1, 1))
    monkeypatch.setattr(sheets, "maker", lambda: "another version")
    sheets.write_workbook("x", [("t", ["a"], [(1,)])], old.parent)
    assert old.stat().st_mtime > 1
