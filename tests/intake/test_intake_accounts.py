"""Every row of every file is counted once, whatever becomes of it."""

import pytest
from clinic_folder import CASES, counts

from pipeline import intake


def test_a_clean_file_is_all_new(clinic):
    account = clinic.load_text("cases.csv", CASES)
    assert counts(account) == (2, 2, 0, 0, 0, 0)
    assert (account.lines, account.table, account.encoding, account.separator) == (2, "cases", "utf-8", "comma")
    assert clinic.ask("SELECT case_id, weight_kg, asa_class, source_file, source_row FROM cases ORDER BY case_id") == [
        ("A1", 12.5, 2, 1, 2),
        ("A2", 4.2, 3, 1, 3),
    ]


def test_the_same_file_again_changes_nothing(clinic):
    clinic.load_text("cases.csv", CASES)
    before = clinic.ask("SELECT * FROM cases ORDER BY ALL"), clinic.ask("SELECT * FROM files")
    receipt = clinic.load(clinic.put("copy_of_cases.csv", CASES))
    assert counts(receipt.files[0]) == (2, 0, 2, 0, 0, 0)
    assert receipt.files[0].known
    assert "loaded before" in receipt.sentences()[0]
    assert before == (clinic.ask("SELECT * FROM cases ORDER BY ALL"), clinic.ask("SELECT * FROM files"))


def test_overlapping_exports_meet(clinic):
    clinic.load_text("march.csv", CASES)
    account = clinic.load_text("quarter.csv", CASES + "A3,cat,3.9,1,2025-03-07 08:15,2025-03-07 09:30\n")
    assert counts(account) == (3, 1, 2, 0, 0, 0)
    assert clinic.ask("SELECT count(*) FROM cases") == [(3,)]


def test_the_newer_export_wins_and_the_old_row_is_kept(clinic):
    clinic.load_text("march.csv", CASES)
    account = clinic.load_text("march_2.csv", CASES.replace("12.5", "12.7"))
    assert counts(account) == (2, 0, 1, 1, 0, 0)
    assert clinic.ask("SELECT weight_kg, source_file FROM cases WHERE case_id = 'A1'") == [(12.7, 2)]
    table, old_file, row, new_file, raw = clinic.ask(
        'SELECT table_name, file_id, "row", replaced_by_file, raw FROM replaced_rows'
    )[0]
    assert (table, old_file, row, new_file) == ("cases", 1, 2, 2)
    assert '"weight_kg":12.5' in raw


def test_equal_duplicates_count_once_and_different_ones_are_both_quarantined(clinic):
    text = "case_id,species,weight_kg\nA1,dog,12.5\nA1,dog,12.5\nA2,cat,4.2\nA2,cat,4.3\nA3,cat,5\n"
    account = clinic.load_text("cases.csv", text)
    assert counts(account) == (5, 2, 1, 0, 2, 0)
    assert clinic.ask('SELECT "row", case_id, rule, reason FROM quarantine ORDER BY "row"') == [
        (
            4,
            "A2",
            "duplicate_key",
            "the same case_id stands in this file again with other contents (row 5); keep the right row",
        ),
        (
            5,
            "A2",
            "duplicate_key",
            "the same case_id stands in this file again with other contents (row 4); keep the right row",
        ),
    ]


def test_three_of_one_key_are_all_quarantined_if_one_differs(clinic):
    account = clinic.load_text("cases.csv", "case_id,species\nA1,dog\nA1,dog\nA1,cat\n")
    assert counts(account) == (3, 0, 0, 0, 3, 0)


def test_equal_doses_in_one_file_are_two_doses(clinic_with_cases):
    text = "case_id,drug,amount,amount_unit,given_at\n" + "A1,propofol,40,mg,2025-03-06 08:15\n" * 2
    assert counts(clinic_with_cases.load_text("drugs.csv", text)) == (2, 2, 0, 0, 0, 0)
    again = text + "A1,propofol,40,mg,2025-03-06 08:15\n" + "A1,ketamine,40,mg,2025-03-06 08:15\n"
    assert counts(clinic_with_cases.load_text("drugs_later.csv", again)) == (4, 2, 2, 0, 0, 0)
    assert clinic_with_cases.ask("SELECT drug, count(*) FROM drugs GROUP BY drug ORDER BY drug") == [
        ("ketamine", 1),
        ("propofol", 3),
    ]


def test_equipment_and_stock_without_a_key(clinic):
    text = "item,at,movement,quantity,unit\n" + "propofol,2025-03-06 08:00,opened,1,vial\n" * 2
    assert counts(clinic.load_text("stock.csv", text)) == (2, 2, 0, 0, 0, 0)
    text = "machine_id,at,item,action\nM1,2025-03-06 08:00,absorbent,changed\n"
    assert counts(clinic.load_text("equipment.csv", text)) == (1, 1, 0, 0, 0, 0)
    later = text + "M1,2025-03-07 08:00,absorbent,marked\n"
    assert counts(clinic.load_text("equipment_2.csv", later)) == (2, 1, 1, 0, 0, 0)


def test_orphans_wait_for_their_case(clinic):
    vitals = "case_id,taken_at,parameter,value\nA1,2025-03-06 08:20,heart_rate,100\nZ9,2025-03-06 08:20,heart_rate,90\n"
    clinic.load_text("cases.csv", CASES)
    assert counts(clinic.load_text("vitals.csv", vitals)) == (2, 1, 0, 0, 1, 0)
    reason = "no case Z9 is loaded; load its case and this row loads by itself, or correct the case_id"
    assert clinic.ask("SELECT case_id, rule, reason, month_no FROM quarantine") == [
        ("Z9", "no_such_case", reason, 2025 * 12 + 2)
    ]
    receipt = clinic.load(clinic.put("more.csv", "case_id,species\nZ9,dog\n"))
    assert receipt.released == [("vitals.csv", "vitals", 1)]
    assert "1 rows of vitals had waited for their case and are loaded now" in "\n".join(receipt.sentences())
    assert clinic.ask("SELECT rows_read, rows_new, rows_quarantined FROM files WHERE name = 'vitals.csv'") == [
        (2, 2, 0)
    ]
    assert clinic.ask("SELECT case_id, value, source_file, source_row FROM vitals ORDER BY case_id") == [
        ("A1", 100.0, 2, 2),
        ("Z9", 90.0, 2, 3),
    ]
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]
    assert clinic.ask("SELECT count(*) FROM waiting_vitals") == [(0,)]


def test_a_quarantined_case_holds_its_rows_back_until_it_is_mended(clinic):
    clinic.put("cases.csv", CASES.replace("12.5", "heavy"))
    clinic.put("vitals.csv", "case_id,taken_at,heart_rate,spo2\nA1,2025-03-06 08:20,100,98\n")
    receipt = clinic.load()
    assert [counts(account) for account in receipt.files] == [(2, 1, 0, 0, 1, 0), (1, 0, 0, 0, 1, 0)]
    assert clinic.ask("SELECT reason FROM quarantine WHERE table_name = 'vitals'") == [
        ("case A1 is itself quarantined (cases.csv, row 2); mend that row and this one loads by itself",)
    ]
    receipt = clinic.load(clinic.put("cases_2.csv", CASES))
    assert counts(receipt.files[0]) == (2, 1, 1, 0, 0, 0)
    assert clinic.ask("SELECT count(*) FROM vitals") == [(2,)]
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]
    assert clinic.ask("SELECT rows_new, rows_replaced, rows_quarantined FROM files WHERE name = 'cases.csv'") == [
        (1, 1, 0)
    ]
    assert clinic.ask("SELECT rows_new, rows_quarantined FROM files WHERE name = 'vitals.csv'") == [(1, 0)]


def test_a_wide_row_with_one_unreadable_cell_keeps_its_other_readings(clinic_with_cases):
    text = (
        "case_id,taken_at,heart_rate,spo2\nA1,2025-03-06 08:20,fast,98\nA1,2025-03-06 08:25,100,97\n"
        "A1,2025-03-06 08:30,,\nA1,2025-03-06 08:35,,96\n"
    )
    account = clinic_with_cases.load_text("vitals.csv", text)
    assert counts(account) == (3, 2, 0, 0, 1, 1)
    assert clinic_with_cases.ask("SELECT parameter, value, source_row FROM vitals ORDER BY source_row, parameter") == [
        ("spo2", 98.0, 2),
        ("heart_rate", 100.0, 3),
        ("spo2", 97.0, 3),
        ("spo2", 96.0, 5),
    ]
    assert clinic_with_cases.ask('SELECT "row", column_name, value, reason FROM quarantine') == [
        (2, "heart_rate", "fast", "heart_rate holds 'fast', which is not a number")
    ]


def test_a_long_row_without_a_value_is_a_row(clinic_with_cases):
    account = clinic_with_cases.load_text(
        "vitals.csv", "case_id,taken_at,parameter,value\nA1,2025-03-06 08:20,heart_rate,\n"
    )
    assert counts(account) == (1, 1, 0, 0, 0, 0)
    assert clinic_with_cases.ask("SELECT value FROM vitals") == [(None,)]


@pytest.mark.parametrize("name", ["vitals.csv", "cases_repaired.csv"])
def test_a_repaired_export_clears_what_it_repairs(clinic_with_cases, name):
    clinic = clinic_with_cases
    broken = "case_id,taken_at,parameter,value\nA1,2025-03-06 08:20,heart_rate,fast\nA1,sometime,spo2,97\n"
    assert counts(clinic.load_text("monitor.csv", broken)) == (2, 0, 0, 0, 2, 0)
    mended = broken.replace("fast", "100").replace("sometime", "2025-03-06 08:20")
    assert counts(clinic.load_text(name, mended)) == (2, 2, 0, 0, 0, 0)
    assert clinic.ask("SELECT count(*) FROM quarantine") == [(0,)]
    assert clinic.ask("SELECT rows_replaced, rows_quarantined FROM files WHERE name = 'monitor.csv'") == [(2, 0)]
    assert clinic.ask("SELECT count(*) FROM replaced_rows") == [(2,)]


def test_the_same_fault_again_stands_once_in_quarantine(clinic):
    broken = CASES.replace("12.5", "heavy")
    clinic.load_text("march.csv", broken)
    account = clinic.load_text("march_2.csv", broken + "A3,cat,3.9,1,2025-03-07 08:15,2025-03-07 09:30\n")
    assert counts(account) == (3, 1, 1, 0, 1, 0)
    assert clinic.ask('SELECT name, "row" FROM quarantine') == [("march_2.csv", 2)]


def test_tables_load_in_order_whatever_the_files_are_called(clinic):
    clinic.put("1_readings.csv", "case_id,taken_at,heart_rate\nA1,2025-03-06 08:20,100\n")
    clinic.put("2_patients.csv", CASES)
    receipt = clinic.load()
    assert [(file.name, file.new) for file in receipt.files] == [("2_patients.csv", 2), ("1_readings.csv", 1)]


def test_of_two_files_of_one_table_the_later_name_is_the_newer(clinic):
    clinic.put("cases 10.csv", CASES.replace("12.5", "10"))
    clinic.put("cases 2.csv", CASES.replace("12.5", "2"))
    clinic.load()
    assert clinic.ask("SELECT weight_kg FROM cases WHERE case_id = 'A1'") == [(10.0,)]


def test_a_row_gone_from_a_newer_export_is_kept_and_told(clinic):
    clinic.load_text("march.csv", CASES + "A3,cat,3.9,1,2025-03-06 12:15,2025-03-06 12:30\n")
    account = clinic.load_text(
        "march_2.csv", CASES.replace("A2,cat,4.2,3,2025-03-06 10:15", "A4,cat,4.2,3,2025-03-06 13:15")
    )
    assert [note.sentence for note in account.notes] == [
        "2 cases of this file's period were loaded before and are not in it; they are kept. Deleted, or filtered out?"
    ]
    assert clinic.ask("SELECT count(*) FROM cases") == [(4,)]


def test_a_load_that_breaks_off_leaves_nothing(clinic, monkeypatch):
    from pipeline.intake import accounts

    clinic.load_text("cases.csv", CASES)
    before = {
        name: clinic.ask(f"SELECT * FROM {name} ORDER BY ALL")
        for name in ("cases", "files", "quarantine", "load_notes")
    }

    def broken(*args):
        raise KeyboardInterrupt

    monkeypatch.setattr(accounts, "write", broken)
    path = clinic.put("cases_2.csv", CASES.replace("12.5", "13").replace("4.2", "heavy"))
    with pytest.raises(KeyboardInterrupt):
        intake.load(clinic.db, clinic.settings, clinic.folder, [path])
    assert before == {name: clinic.ask(f"SELECT * FROM {name} ORDER BY ALL") for name in before}


def test_files_of_a_load_that_breaks_off_load_again(clinic, monkeypatch):
    from pipeline.intake import accounts

    clinic.put("cases.csv", CASES)
    for hour in range(10, 13):
        clinic.put(f"vitals_{hour}.csv", f"case_id,taken_at,parameter,value\nA1,2025-03-06 {hour}:00,heart_rate,90\n")
    write = accounts.write

    def broken(db, source, *more):
        if source.name == "vitals_11.csv":
            raise KeyboardInterrupt
        write(db, source, *more)

    with monkeypatch.context() as patched:
        patched.setattr(accounts, "write", broken)
        with pytest.raises(KeyboardInterrupt):
            intake.load(clinic.db, clinic.settings, clinic.folder)
    loaded = clinic.ask("SELECT count(*) FROM vitals")[0][0]
    assert loaded == clinic.ask("SELECT coalesce(sum(rows_read), 0) FROM files WHERE table_name = 'vitals'")[0][0]
    receipt = clinic.load()
    assert sum(account.read for account in receipt.files) == 5
    assert clinic.ask("SELECT count(*) FROM vitals") == [(3,)]


def test_one_content_under_two_names_in_one_load_counts_once(clinic):
    for name in ("cases.csv", "cases_copy.csv"):
        clinic.put(name, CASES)
    receipt = clinic.load()
    assert [(account.name, account.known, counts(account)) for account in receipt.files] == [
        ("cases.csv", False, (2, 2, 0, 0, 0, 0)),
        ("cases_copy.csv", True, (2, 0, 2, 0, 0, 0)),
    ]
    assert clinic.ask("SELECT name FROM files") == [("cases.csv",)]


@pytest.mark.parametrize("ahead", ["IN_MEMORY", "AT_ONCE"])
def test_however_many_files_are_read_ahead_or_stored_together(clinic, monkeypatch, ahead):
    from pipeline.intake import ahead as reading
    from pipeline.intake import loading

    monkeypatch.setattr(*((reading, "IN_MEMORY", 0) if ahead == "IN_MEMORY" else (loading, "AT_ONCE", 0)))
    clinic.put("cases.csv", CASES)
    clinic.put("cases_2.csv", CASES.replace("12.5", "13"))
    clinic.put("cases_3.csv", "case_id,species\nA1,dog\nA1,cat\n")
    clinic.put("broken.csv", "nothing,we,know\n1,2,3\n")
    # A clock alone needs the day of its case, which the same load brings.
    clinic.put("vitals.csv", "case_id,taken_at,parameter,value\nA1,08:20:00,heart_rate,90\nZ9,08:25:00,spo2,98\n")
    receipt = clinic.load()
    assert [fault.where for fault in receipt.refused] == ["broken.csv"]
    assert [(account.name, counts(account)) for account in receipt.files] == [
        ("cases.csv", (2, 2, 0, 0, 0, 0)),
        ("cases_2.csv", (2, 0, 1, 1, 0, 0)),
        ("cases_3.csv", (2, 0, 0, 0, 2, 0)),
        ("vitals.csv", (2, 1, 0, 0, 1, 0)),
    ]
    assert clinic.ask("SELECT taken_at::VARCHAR FROM vitals") == [("2025-03-06 08:20:00",)]
    assert clinic.ask("SELECT weight_kg FROM cases ORDER BY case_id") == [(13.0,), (4.2,)]


def test_a_known_file_read_by_other_settings_says_so(clinic):
    from dataclasses import replace

    path = clinic.put("cases.csv", CASES)
    clinic.load(path)
    assert clinic.load(path).sentences() == ["cases.csv: loaded before; nothing changed."]
    assert clinic.load(clinic.put("copy.csv", CASES)).sentences() == [
        "copy.csv: loaded before as cases.csv; nothing changed."
    ]
    clinic.settings = replace(clinic.settings, zone="Europe/Lisbon")
    said = clinic.load(path).sentences()
    assert said[1].startswith("  It was read by another mapping.toml, zone or privacy setting than now.")


def test_a_receipt_for_a_machine_is_plain_json(clinic):
    import json

    clinic.put("cases.csv", CASES.replace("12.5", "heavy"))
    clinic.put("vitals.csv", "case_id,taken_at,spo2\nA1,2025-03-06 08:20,98\nZ9,2025-03-06 08:20,98\n")
    receipt = clinic.load()
    answer = json.loads(json.dumps(receipt.as_dict()))
    assert answer["totals"] == {
        "lines": 4, "read": 4, "new": 1, "unchanged": 0, "replaced": 0, "quarantined": 3, "set_aside": 0
    }  # fmt: skip
    assert answer["files"][1]["problems"] == [
        ["case A1 is itself quarantined (cases.csv, row 2); mend that row and this one loads by itself", 1],
        ["no case Z9 is loaded; load its case and this row loads by itself, or correct the case_id", 1],
    ]
    assert receipt.quarantined == 3
