"""Files of which nothing is loaded, each with the exact sentence; the files beside them load."""

import gzip

import pytest
from clinic_folder import CASES


def refused(clinic, name, content, encoding="utf-8"):
    receipt = clinic.load(clinic.put(name, content, encoding))
    assert receipt.files == []
    assert clinic.ask("SELECT count(*) FROM files") == [(0,)]
    (fault,) = receipt.refused
    assert fault.exit_code == 3
    return str(fault)


def test_a_missing_required_column(clinic):
    text = "case_id,taken_at,reading\nA1,2025-03-06 08:20,100\n"
    assert refused(clinic, "vitals_march.csv", text) == (
        "vitals_march.csv, header\n"
        "  found   the columns case_id, reading, taken_at\n"
        "  wanted  vitals also needs the column parameter, or one column a parameter such as heart_rate\n"
        "  to fix  add the column to the export, or map it with `rounds map`"
    )


def test_a_misspelt_required_column(clinic):
    assert refused(clinic, "events.csv", "case_id,evnt\nA1,hypotension\n") == (
        "events.csv, header\n"
        "  found   the columns case_id, evnt\n"
        "  wanted  events also needs the column event\n"
        "  to fix  is evnt meant as event? add the column to the export, or map it with `rounds map`"
    )


def test_no_known_column_shows_no_cell(clinic):
    said = refused(clinic, "list.csv", "Mrs Miller,Rex,Main Street 1\nMr Smith,Tom,High Street 2\n")
    assert said == (
        "list.csv\n"
        "  found   no line among the first 30 with our column names\n"
        "  wanted  the columns of one table, such as cases (case_id, species, ...)\n"
        "  to fix  run `rounds map list.csv` to say which column is what"
    )


def test_an_empty_file(clinic):
    assert refused(clinic, "cases.csv", b"\n \r\n") == (
        "cases.csv\n"
        "  found   an empty file\n"
        "  wanted  a line of column names and rows below it\n"
        "  to fix  export it again; the last export may have been interrupted"
    )


def test_a_missing_file(clinic):
    receipt = clinic.load(clinic.exports / "nowhere.csv")
    assert [fault.found for fault in receipt.refused] == ["no such file"]


@pytest.mark.parametrize(
    ("name", "content", "found"),
    [
        ("cases.csv", b"PK\x03\x04rest", "a spreadsheet workbook (.xlsx or .ods), though its name ends in .csv"),
        ("cases.csv", b"\xd0\xcf\x11\xe0rest", "an old spreadsheet workbook (.xls), though its name ends in .csv"),
        ("cases.csv", b"<html><table><tr><td>case_id", "a web page (HTML or XML), though its name ends in .csv"),
        ("cases.xlsx", b"case_id,species\nA1,dog\n", "plain text, though its name ends in .xlsx"),
        ("cases.csv", b"%PDF-1.7 ...", "a PDF document, though its name ends in .csv"),
        ("cases.csv", gzip.compress(b"case_id", mtime=0), "a gzip archive, though its name ends in .csv"),
        ("cases.csv", b"PAR1....", "a Parquet file, though its name ends in .csv"),
        ("cases.csv", b'{"resourceType": "Patient"}', "JSON, though its name ends in .csv"),
    ],
)
def test_a_file_that_is_not_what_its_ending_says(clinic, name, content, found):
    assert found in refused(clinic, name, content)


def test_an_archive_cut_short(clinic):
    whole = gzip.compress(CASES.encode() * 50)
    said = refused(clinic, "cases.csv.gz", whole[: len(whole) // 2])
    assert "found   an archive that cannot be unpacked to its end" in said


def test_an_archive_of_something_else(clinic):
    said = refused(clinic, "cases.csv.gz", gzip.compress(b"%PDF-1.7"))
    assert "found   an archive holding a PDF document" in said


def test_a_column_twice_with_different_cells(clinic):
    assert refused(clinic, "cases.csv", "case_id,weight_kg,weight_kg\nA1,4,5\n") == (
        "cases.csv, header\n"
        "  found   the column weight_kg twice, with different cells\n"
        "  wanted  to know which of the two is meant\n"
        "  to fix  rename or delete one of them in the export, or map the file with `rounds map`"
    )


def test_thousands_or_decimals(clinic):
    said = refused(clinic, "cases.csv", "case_id;weight_kg\nA1;1,234\nA2;12\n")
    assert "found   numbers such as '1,234', and nothing that tells whether the comma is a decimal sign" in said


def test_day_or_month_first(clinic):
    said = refused(clinic, "cases.csv", "case_id,induction_at\nA1,06/03/2025 08:15\n")
    assert "found   dates such as '06/03/2025 08:15', none with a day over 12 to tell the order" in said


def test_a_refused_file_does_not_stop_the_others(clinic):
    clinic.put("cases.csv", CASES)
    clinic.put("events.csv", "case_id,evnt\nA1,hypotension\n")
    clinic.put("vitals.csv", "case_id,taken_at,spo2\nA1,2025-03-06 08:20,98\n")
    clinic.put("plan.docx", "notes")
    receipt = clinic.load()
    assert [file.name for file in receipt.files] == ["cases.csv", "vitals.csv"]
    assert [fault.where for fault in receipt.refused] == ["events.csv, header"]
    assert receipt.ignored == ["plan.docx"]
    assert receipt.as_dict()["refused"][0]["where"] == "events.csv, header"
