"""Quarantined rows go out as a sheet and come back mended."""

import csv

import pytest
from clinic_folder import CASES, counts


def sheet(clinic, name: str) -> list[dict]:
    with (clinic.folder / "to_fix" / name).open(encoding="utf-8-sig", newline="") as lines:
        return list(csv.DictReader(lines))


def save(clinic, name: str, rows: list[dict], delimiter: str = ",") -> None:
    """As a person would: the mended sheet into exports/."""
    with (clinic.exports / name).open("w", encoding="utf-8", newline="") as lines:
        writer = csv.DictWriter(lines, rows[0].keys(), delimiter=delimiter)
        writer.writeheader()
        writer.writerows(rows)


def test_a_mended_sheet_loads_and_clears_the_quarantine(clinic):
    clinic.put("cases.csv", CASES.replace("12.5", "heavy").replace("4.2", "light"))
    receipt = clinic.load()
    assert receipt.fix_sheets == ["cases_to_fix.csv"]
    rows = sheet(clinic, "cases_to_fix.csv")
    assert rows[0] == {
        "problem": "weight_kg holds 'heavy', which is not a number",
        "proposal": "",
        "from_file": "cases.csv",
        "from_row": "2",
        "case_id": "A1",
        "species": "dog",
        "weight_kg": "heavy",
        "asa_class": "2",
        "induction_at": "2025-03-06 08:15",
        "extubation_at": "2025-03-06 09:30",
    }
    rows[0]["weight_kg"] = "12.5"
    save(clinic, "cases_to_fix.csv", rows[:1])
    receipt = clinic.load()
    assert counts(receipt.files[-1]) == (1, 1, 0, 0, 0, 0)
    assert clinic.ask("SELECT case_id, weight_kg FROM cases") == [("A1", 12.5)]
    assert [row["case_id"] for row in sheet(clinic, "cases_to_fix.csv")] == ["A2"]
    rows[1]["weight_kg"] = "4.2"
    save(clinic, "cases_to_fix_2.csv", rows[1:])
    assert clinic.load().fix_sheets == []
    assert not list((clinic.folder / "to_fix").iterdir())
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]
    assert clinic.ask("SELECT rows_quarantined, rows_replaced FROM files WHERE name = 'cases.csv'") == [(0, 2)]


def test_everything_can_be_rebuilt_from_exports_and_mended_sheets(clinic):
    clinic.put("cases.csv", CASES.replace("12.5", "heavy"))
    clinic.load()
    rows = sheet(clinic, "cases_to_fix.csv")
    rows[0]["weight_kg"] = "12.5"
    # A name that would sort before the export it mends.
    save(clinic, "a_mended.csv", rows)
    for table in ("files", "cases", "quarantine", "quarantine_keys", "replaced_rows"):
        clinic.ask(f"DELETE FROM {table}")
    receipt = clinic.load()
    assert [file.name for file in receipt.files] == ["cases.csv", "a_mended.csv"]
    assert clinic.ask("SELECT case_id, weight_kg FROM cases ORDER BY case_id") == [("A1", 12.5), ("A2", 4.2)]
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]


def test_a_sheet_row_left_as_it_was_stands_in_quarantine_once(clinic):
    clinic.put("cases.csv", CASES.replace("12.5", "heavy").replace("4.2", "light"))
    clinic.load()
    rows = sheet(clinic, "cases_to_fix.csv")
    rows[0]["weight_kg"] = "12.5"
    save(clinic, "cases_to_fix.csv", rows)
    assert counts(clinic.load().files[-1]) == (2, 1, 0, 0, 1, 0)
    assert clinic.ask('SELECT name, "row", case_id FROM quarantine') == [("cases_to_fix.csv", 3, "A2")]


def test_a_mended_key_clears_the_row_it_names(clinic_with_cases):
    clinic = clinic_with_cases
    clinic.put("vitals.csv", "case_id,taken_at,parameter,value\nA11,2025-03-06 08:20,heart_rate,100\n")
    clinic.load()
    rows = sheet(clinic, "vitals_to_fix.csv")
    assert rows[0]["problem"].startswith("no case A11 is loaded")
    rows[0]["case_id"] = "A1"
    save(clinic, "vitals_to_fix.csv", rows)
    clinic.load()
    assert clinic.ask("SELECT case_id, value FROM vitals") == [("A1", 100.0)]
    assert clinic.ask("SELECT (SELECT count(*) FROM quarantine), (SELECT count(*) FROM waiting_vitals)") == [(0, 0)]


def test_wide_vitals_come_back_wide(clinic_with_cases):
    clinic = clinic_with_cases
    clinic.put(
        "vitals.csv",
        "case_id;taken_at;heart_rate;temperature\nA1;2025-03-06 08:20;12O;37,5\nA1;2025-03-06 08:25;99;37,4\n",
    )
    clinic.load()
    rows = sheet(clinic, "vitals_wide_to_fix.csv")
    assert rows == [
        {
            "problem": "heart_rate holds '12O', which is not a number",
            "proposal": "120",
            "from_file": "vitals.csv",
            "from_row": "2",
            "case_id": "A1",
            "taken_at": "2025-03-06 08:20",
            "heart_rate": "12O",
            "temperature": "37.5",
        }
    ]
    rows[0]["heart_rate"] = "120"
    save(clinic, "mended.csv", rows)
    assert counts(clinic.load().files[-1]) == (1, 1, 0, 0, 0, 0)
    assert clinic.ask("SELECT parameter, value FROM vitals ORDER BY taken_at, parameter") == [
        ("heart_rate", 120.0),
        ("temperature", 37.5),
        ("heart_rate", 99.0),
        ("temperature", 37.4),
    ]
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]


def test_of_two_contradicting_rows_the_kept_one_clears_both(clinic):
    clinic.put("cases.csv", "case_id,species,weight_kg\nA2,cat,4.2\nA2,cat,4.3\n")
    clinic.load()
    rows = sheet(clinic, "cases_to_fix.csv")
    assert len(rows) == 2
    save(clinic, "cases_to_fix.csv", rows[1:])
    clinic.load()
    assert clinic.ask("SELECT weight_kg FROM cases") == [(4.3,)]
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]


@pytest.mark.parametrize("text", ["=HYPERLINK(1)", "+sum", "@x", "-tricky", "'quoted", "O'Neill"])
def test_text_that_would_run_as_a_formula_is_defused_and_comes_back_whole(clinic, text):
    clinic.put("cases.csv", f"case_id,procedure,weight_kg\nA1,{text},heavy\n")
    clinic.load()
    rows = sheet(clinic, "cases_to_fix.csv")
    assert rows[0]["procedure"][0] not in "=+-@"
    rows[0]["weight_kg"] = "12"
    save(clinic, "cases_to_fix.csv", rows)
    clinic.load()
    assert clinic.ask("SELECT procedure FROM cases") == [(text,)]


def test_patients_stay_pseudonyms_through_the_sheet(clinic):
    clinic.put("cases.csv", "case_id,patient_id,weight_kg\nA1,REX-1,heavy\nA2,REX-1,4\n")
    clinic.load()
    rows = sheet(clinic, "cases_to_fix.csv")
    assert "REX" not in str(rows)
    rows[0]["weight_kg"] = "4"
    save(clinic, "cases_to_fix.csv", rows)
    clinic.load()
    assert clinic.ask("SELECT count(DISTINCT patient_id), count(patient_id) FROM cases") == [(1, 2)]


def test_a_sheet_somebody_works_on_is_not_overwritten(clinic):
    clinic.put("cases.csv", CASES.replace("12.5", "heavy"))
    clinic.load()
    path = clinic.folder / "to_fix" / "cases_to_fix.csv"
    path.write_text(path.read_text(encoding="utf-8") + "half mended", encoding="utf-8")
    clinic.put("cases_b.csv", CASES.replace("4.2", "light"))
    receipt = clinic.load()
    assert path.read_text(encoding="utf-8").endswith("half mended")
    assert receipt.fix_sheets == ["cases_to_fix_2.csv"]
    assert [row["case_id"] for row in sheet(clinic, "cases_to_fix_2.csv")] == ["A2"]


def test_a_sheet_saved_as_a_workbook_comes_back_too(clinic):
    import xlsxwriter

    clinic.put("cases.csv", CASES.replace("12.5", "heavy"))
    clinic.load()
    rows = sheet(clinic, "cases_to_fix.csv")
    with xlsxwriter.Workbook(clinic.exports / "cases_to_fix.xlsx") as book:
        page = book.add_worksheet()
        for column, name in enumerate(rows[0]):
            page.write(0, column, name)
            cell = rows[0][name]
            page.write(1, column, 12.5 if name == "weight_kg" else int(cell) if name == "from_row" else cell)
    receipt = clinic.load()
    assert receipt.refused == []
    assert clinic.ask("SELECT case_id, weight_kg FROM cases ORDER BY 1") == [("A1", 12.5), ("A2", 4.2)]
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]
    assert receipt.fix_sheets == []
    for table in ("files", "cases", "quarantine", "quarantine_keys", "replaced_rows"):
        clinic.ask(f"DELETE FROM {table}")
    assert [file.name for file in clinic.load().files] == ["cases.csv", "cases_to_fix.xlsx"]
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]


def test_a_quarantine_too_large_to_mend_by_hand_says_so(clinic_with_cases, monkeypatch):
    from pipeline.intake import to_fix

    monkeypatch.setattr(to_fix, "MOST_ROWS", 3)
    lines = "".join(f"Z{n},2025-03-06 08:20,spo2,98\n" for n in range(5))
    receipt = clinic_with_cases.load(clinic_with_cases.put("vitals.csv", "case_id,taken_at,parameter,value\n" + lines))
    assert len(sheet(clinic_with_cases, "vitals_to_fix.csv")) == 3
    assert receipt.warnings == [
        "vitals: 5 rows are in quarantine; the sheet for mending holds the first 3. "
        "So many are better mended in the export."
    ]


def test_a_sheet_goes_by_our_names_whatever_mapping_toml_claims(clinic):
    (clinic.folder / "mapping.toml").write_text(
        '[[file]]\nname = "all"\nfiles = ["*.csv", "*.xlsx"]\ntable = "cases"\n'
        '[file.columns]\nFall = "case_id"\nTierart = "species"\nGewicht = "weight_kg"\n',
        encoding="utf-8",
    )
    clinic.put("faelle.csv", "Fall;Tierart;Gewicht\nA1;dog;schwer\nA2;cat;4,2\n")
    receipt = clinic.load()
    assert (receipt.refused, [file.quarantined for file in receipt.files]) == ([], [1])
    rows = sheet(clinic, "cases_to_fix.csv")
    assert rows[0]["from_file"] == "faelle.csv"
    rows[0]["weight_kg"] = "12"
    save(clinic, "cases_to_fix.csv", rows)
    receipt = clinic.load()
    assert receipt.refused == []
    assert clinic.ask("SELECT case_id, weight_kg FROM cases ORDER BY 1") == [("A1", 12.0), ("A2", 4.2)]
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]
