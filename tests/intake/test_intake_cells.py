"""Cells as clinics write them: converted, noted, taken as unknown or quarantined, each counted with examples."""

import pytest
from clinic_folder import counts


def load_cases(clinic, column, *cells, separator=";", others=""):
    text = f"case_id{separator}{column}{others and separator + others}\n" + "".join(
        f"A{n}{separator}{cell}\n" for n, cell in enumerate(cells)
    )
    account = clinic.load_text("cases.csv", text)
    values = dict(clinic.ask(f"SELECT case_id, {column} FROM cases"))
    return account, [values.get(f"A{n}", "quarantined") for n in range(len(cells))]


@pytest.mark.parametrize(
    ("cells", "values"),
    [
        (["4.5", "12", " 7 ", "+3", ".5", "1e1"], [4.5, 12.0, 7.0, 3.0, 0.5, 10.0]),
        (["4,5", "12,25"], [4.5, 12.25]),
        (["1.234,5", "4,5", "1.200"], [1234.5, 4.5, 1200.0]),
        (["1,234.5", "1,200"], [1234.5, 1200.0]),
        (["1'200", "1 200", "4.5"], [1200.0, 1200.0, 4.5]),
        (["4.2 kg", "5KG", "~6", "<7", ">8.5"], [4.2, 5.0, 6.0, 7.0, 8.5]),
        (["0", "-1", "999", "-99", "12"], [None, None, None, None, 12.0]),
        (["", "-", "n/a", "NR", "k.A.", "?", ".", "NULL", "None", "nan"], [None] * 10),
        (["#DIV/0!", "#WERT!", "=B2*1.7"], [None] * 3),
        (["heavy", "4.2.1", "12O", "inf"], ["quarantined"] * 4),
    ],
)
def test_numbers(clinic, cells, values):
    account, got = load_cases(clinic, "weight_kg", *cells)
    assert got == values
    assert account.quarantined == values.count("quarantined")


def test_decimal_sign_is_decided_for_the_file_and_the_rest_is_quarantined_with_a_proposal(clinic):
    account, got = load_cases(clinic, "weight_kg", "4,5", "6,25", "7.5")
    assert got == [4.5, 6.25, "quarantined"]
    assert clinic.ask("SELECT value, rule, proposal, reason FROM quarantine") == [
        (
            "7.5",
            "mixed_decimal",
            "7,5",
            "weight_kg holds '7.5', which writes decimals otherwise than the rest of the file",
        )
    ]


def test_a_weight_outside_the_species_is_kept_and_flagged_with_a_proposal(clinic):
    text = "case_id,species,weight_kg\nA1,cat,4200\nA2,cat,4.2\nA3,dog,4200\n"
    assert counts(clinic.load_text("cases.csv", text)) == (3, 3, 0, 0, 0, 0)
    assert clinic.ask("SELECT weight_kg FROM cases WHERE case_id = 'A1'") == [(4200.0,)]
    assert ("A1", "4200", "4.2 kg?") in clinic.ask("SELECT case_id, value, proposal FROM flagged_cells ORDER BY 1")


@pytest.mark.parametrize(
    ("cell", "value"),
    [("2", 2), ("II", 2), ("iii", 3), ("ASA 3", 3), ("P3", 3), ("2e", 2), ("II-E", 2), ("ASA2E", 2), ("V", 5),
     ("2.0", 2), ("2-3", None), ("III/IV", None), ("E", None),
     ("2?", None), ("0", None), ("VI", None), ("6", None), ("abc", None)],
)  # fmt: skip
def test_asa_class(clinic, cell, value):
    account, got = load_cases(clinic, "asa_class", cell)
    assert got == [value]
    assert account.quarantined == 0
    if value is None:
        assert "W" in [note.kind for note in account.notes]


def test_the_e_of_the_class_makes_an_emergency_unless_the_column_denies_it(clinic):
    text = "case_id,asa_class,emergency\nA1,2E,\nA2,2E,yes\nA3,2E,no\nA4,2,no\nA5,E,\n"
    account = clinic.load_text("cases.csv", text)
    assert clinic.ask("SELECT emergency FROM cases ORDER BY case_id") == [(True,), (True,), (None,), (False,), (True,)]
    assert "asa_class: an E, though the column emergency says no - emergency taken as unknown." in [
        note.sentence for note in account.notes
    ]


@pytest.mark.parametrize(
    ("cell", "value"),
    [("y", True), ("J", True), ("oui", True), ("x", True), ("1", True), ("✓", True), ("TRUE", True), ("sí", True),
     ("n", False), ("Nein", False), ("non", False), ("0", False), ("false", False), ("", None), ("n/a", None),
     ("perhaps", "quarantined")],
)  # fmt: skip
def test_yes_and_no(clinic, cell, value):
    assert load_cases(clinic, "emergency", cell)[1] == [value]


def test_a_word_that_is_no_code_is_unknown_with_the_nearest_suggested(clinic):
    account, got = load_cases(clinic, "outcome", "Alive", " DIED ", "alivve")
    assert got == ["alive", "died", None]
    assert account.quarantined == 0
    assert clinic.ask("SELECT value, proposal FROM flagged_cells") == [("alivve", "alive")]


def test_a_required_code_that_is_none_is_quarantined(clinic):
    clinic.load_text("cases.csv", "case_id,species\nA1,dog\n")
    account = clinic.load_text("events.csv", "case_id,event\nA1,hypotention\nA1,Hypotension\nA1,none\n")
    assert counts(account) == (2, 1, 0, 0, 1, 1)
    assert clinic.ask("SELECT value, rule, proposal FROM quarantine") == [("hypotention", "not_a_code", "hypotension")]


@pytest.mark.parametrize("cell", ["1.23E+08", "2-Mar", "02.03.2025", "2025-03-02 00:00:00"])
def test_an_id_damaged_by_a_spreadsheet(clinic, cell):
    account = clinic.load_text("cases.csv", f"case_id,species\n{cell},dog\n007,dog\n2-3,cat\n")
    assert counts(account) == (3, 2, 0, 0, 1, 0)
    assert clinic.ask("SELECT case_id FROM cases ORDER BY 1") == [("007",), ("2-3",)]


def test_ids_are_trimmed_but_their_zeros_and_case_stay(clinic):
    account = clinic.load_text("cases.csv", "case_id,species\n 007 ,dog\na7,dog\nA7,dog\nΑ7,dog\n")
    assert counts(account) == (4, 4, 0, 0, 0, 0)
    assert [note.rule for note in account.notes] == ["look_alike_letters"]


def test_units_of_amounts_are_spellings_not_factors(clinic):
    clinic.load_text("cases.csv", "case_id,species\nA1,dog\n")
    text = (
        "case_id,drug,amount,amount_unit\nA1,fentanyl,5,µg/kg\nA1,fentanyl,5,ug/kg\nA1,propofol,4,ML\nA1,x,4,spoons\n"
    )
    clinic.load_text("drugs.csv", text)
    assert clinic.ask("SELECT amount, amount_unit FROM drugs ORDER BY source_row") == [
        (5.0, "mcg/kg"),
        (5.0, "mcg/kg"),
        (4.0, "mL"),
        # No amount without its unit: of what it is is unknown.
        (None, None),
    ]


def test_lists_of_words(clinic):
    assert load_cases(clinic, "techniques", '"Epidural; nerve block ;; epidural"')[1] == ["epidural;nerve_block"]


def test_days(clinic):
    text = (
        "item,at,movement,quantity,expires_on\np,2025-03-06 08:00,received,5,2026-12-31\np,2025-03-07,received,5,soon\n"
    )
    account = clinic.load_text("stock.csv", text)
    assert counts(account) == (2, 1, 0, 0, 1, 0)
    assert clinic.ask("SELECT reason FROM quarantine") == [
        ("expires_on holds 'soon', which is not a date such as 2025-03-06",)
    ]


def test_stand_ins_for_missing_in_long_vitals_go_by_the_parameter(clinic):
    clinic.load_text("cases.csv", "case_id,species\nA1,dog\n")
    rows = [("temperature", 0), ("spo2", -1), ("etco2", 0), ("heart_rate", 0), ("heart_rate", 999), ("map", 0)]
    text = "case_id,taken_at,parameter,value\n" + "".join(
        f"A1,2025-03-06 08:{n:02},{parameter},{value}\n" for n, (parameter, value) in enumerate(rows)
    )
    account = clinic.load_text("vitals.csv", text)
    assert counts(account) == (6, 6, 0, 0, 0, 0)
    values = [row[0] for row in clinic.ask("SELECT value FROM vitals ORDER BY source_row")]
    # A zero end-tidal CO2 or heart rate is a finding about the sensor, not a blank cell.
    assert values == [None, None, 0.0, 0.0, None, None]


def test_every_rule_is_counted_with_two_examples(clinic):
    account, _ = load_cases(clinic, "weight_kg", "4,5", "5,5", "6,5", "7,25")
    assert [(n.rule, n.kind, n.count, n.examples) for n in account.notes] == [
        ("decimal_comma", "A", 4, ("4,5 -> 4.5", "5,5 -> 5.5"))
    ]
    assert clinic.ask("SELECT rule, class, column_name, n, example_1 FROM load_notes") == [
        ("decimal_comma", "A", "weight_kg", 4, "4,5 -> 4.5")
    ]


def test_a_person_in_wide_letters_is_the_person(clinic):
    clinic.load_text("cases.csv", "case_id,anesthetist\nA1,AB\nA2,\uff21\uff22\nA3,AB\n")
    assert clinic.ask("SELECT DISTINCT anesthetist FROM cases") == [("AB",)]
