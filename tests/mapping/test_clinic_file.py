"""mapping.toml is read strictly: what it cannot mean stops with the nearest word it could."""

import pytest

from pipeline.errors import RefusedFile, SettingsFault
from pipeline.intake.mapping import clinic_file

KIND = {"name": "log", "files": "log*.csv", "table": "cases", "columns": {"Case": "case_id"}}
ASKED = {"question": "kg or lb?", "sets": ["units", "Wt"], "choices": ["kg", "lb"]}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"fil": []}, "did you mean file"),
        ({"file": [{**KIND, "colums": {}}]}, "did you mean columns"),
        ({"file": [{**KIND, "columns": {"Wt": "wieght_kg"}}]}, "did you mean weight_kg"),
        ({"file": [{**KIND, "table": "case"}]}, "one of 'cases'"),
        ({"file": [{**KIND, "decimal": ";"}]}, "one of '.', ','"),
        ({"file": [{**KIND, "encoding": "latin-99"}]}, "an encoding such as"),
        ({"file": [{**KIND, "clock": 13}]}, "one of 12, 24"),
        ({"file": [{**KIND, "files": 3}]}, "a list in"),
        ({"file": [{**KIND, "roll_hours": "long"}]}, "a number"),
        ({"file": [{**KIND, "constants": {"sight": "north"}}]}, "did you mean site"),
        ({"file": [{"name": "log"}]}, "files = ..."),
        ({"file": [{**KIND, "question": [{**ASKED, "answer": "stone"}]}]}, "'kg' or 'lb'"),
        ({"fhir": {"cases": "visit"}}, "'anesthesia', 'procedure' or 'encounter'"),
    ],
)
def test_what_it_cannot_mean(given, said):
    with pytest.raises(SettingsFault) as fault:
        clinic_file.from_dict(given)
    assert said in str(fault.value)


def test_an_answer_is_as_if_written():
    mapping = clinic_file.from_dict({"file": [{**KIND, "question": [{**ASKED, "answer": "lb"}]}]})
    assert mapping.file[0].units == {"Wt": "lb"}


def test_an_open_question_stops_its_files_alone(tmp_path):
    mapping = clinic_file.from_dict(
        {"file": [{**KIND, "question": [ASKED, ASKED]}, {**KIND, "name": "b", "files": ["b*"]}]}
    )
    with pytest.raises(RefusedFile, match=r"kg or lb\? \(and 1 more\)"):
        clinic_file.must_be_answered(mapping.file[0], tmp_path / "log.csv")
    clinic_file.must_be_answered(mapping.file[1], tmp_path / "b.csv")


def test_which_files_are_of_a_kind(tmp_path):
    mapping = clinic_file.from_dict({"file": [{**KIND, "sheet": "Log*"}]})
    assert mapping.claims(tmp_path / "LOG_2026.csv") and not mapping.claims(tmp_path / "other.csv")
    assert mapping.kinds(tmp_path / "log.csv", "log 1") and not mapping.kinds(tmp_path / "log.csv", "old")


def test_no_file_is_no_mapping(tmp_path):
    assert clinic_file.read(tmp_path / "mapping.toml") == clinic_file.Mapping()


def test_a_byte_order_mark_is_no_fault(tmp_path):
    (tmp_path / "mapping.toml").write_bytes(b"\xef\xbb\xbfschema = 1\n")
    assert clinic_file.read(tmp_path / "mapping.toml").schema == 1


def test_a_broken_file_names_its_line(tmp_path):
    (tmp_path / "mapping.toml").write_text("schema = 1\nfile = [\n", encoding="utf-8")
    with pytest.raises(SettingsFault, match="TOML"):
        clinic_file.read(tmp_path / "mapping.toml")


def test_what_cannot_be_found_out_can_be_said(bench):
    """An old code page, a separator of one's own, names below a line like them, an odd form of time."""
    mapping = """
schema = 1
[[file]]
name = "old"
files = ["old*"]
table = "cases"
encoding = "cp850"
separator = "!"
header_row = 3
time_format = "%d%m%y-%H%M"
[file.columns]
"Fall" = "case_id"
"Rasse" = "breed"
"Beginn" = "induction_at"
"""
    text = "Fall!Rasse!Beginn\nalte Spalten\nFall!Rasse!Beginn\nC05!Kromfohrländer!050326-0815\n"
    loaded = bench.load({"old.txt": text.encode("cp850")}, mapping)
    assert loaded.ask("SELECT case_id, breed, induction_at::VARCHAR FROM cases") == [
        ("C05", "Kromfohrländer", "2026-03-05 08:15:00")]  # fmt: skip
    assert loaded.account("old.txt").set_aside == 2


def test_a_file_that_says_another_unit_than_mapping_toml_is_refused(bench):
    mapping = """
schema = 1
[[file]]
name = "log"
files = ["log*"]
table = "cases"
[file.columns]
"Case" = "case_id"
"Weight" = "weight_kg"
[file.units]
"Weight" = "lb"
"""
    refused = bench.load({"log.csv": "Case;Weight\n;kg\nC05;12\n"}, mapping).receipt.refused
    assert "'kg'" in str(refused[0]) and "'lb'" in str(refused[0])
    assert bench.load({"log.csv": "Case;Weight\n;lbs\nC05;12\n"}, mapping).cell("weight_kg", "C05") == 5.443
