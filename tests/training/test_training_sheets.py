"""A sheet that is printed, signed and checked later: the round trip, and every way it can stop holding."""

import json
import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest

from pipeline import database
from pipeline.commands import verify as command
from pipeline.errors import SettingsFault
from pipeline.settings import read as read_settings
from pipeline.training import compute, write_pages
from pipeline.training.sheet import Sheet
from pipeline.training.verify import check, check_in, find


def sheet_of(clinic, person="ash", period="2025-Q4"):
    (found,) = (clinic / "reports" / "training" / "sheets").glob(f"log_{person}_{period}_*.html")
    return found


def change(clinic, sql: str) -> None:
    with database.connect(clinic / database.FILE) as db:
        db.execute(sql)


def check_unchanged(clinic, path, code=None):
    """The check without computing the log again, where the record was not changed."""
    with database.connect(clinic / database.FILE) as db:
        return check(db, path, code)


def first_case(clinic) -> str:
    """A case on the sheet, as its stored rows name it."""
    return json.loads(sheet_of(clinic).with_suffix(".json").read_text(encoding="utf-8"))["rows"][0][0]


def test_a_sheet_holds_while_nothing_changes(copy_of_clinic):
    verdict = check_in(copy_of_clinic, sheet_of(copy_of_clinic))
    assert verdict.holds
    assert verdict.same == len(verdict.sheet.rows) > 20


def test_a_sheet_is_found_by_page_file_name_or_copy(copy_of_clinic, tmp_path):
    page = sheet_of(copy_of_clinic)
    alone = tmp_path / page.name
    shutil.copy(page, alone)
    for given in (page, page.with_suffix(".json"), Path(page.stem), alone):
        assert check_unchanged(copy_of_clinic, find(copy_of_clinic, given)).holds


def test_a_changed_row_is_named_with_what_it_said_and_says(copy_of_clinic):
    case = first_case(copy_of_clinic)
    change(copy_of_clinic, f"UPDATE cases SET asa_class = 5, species = 'ferret' WHERE case_id = '{case}'")
    verdict = check_in(copy_of_clinic, sheet_of(copy_of_clinic))
    assert not verdict.holds
    ((changed, _, cells),) = verdict.changed
    assert changed == case
    assert {column: now for column, _, now in cells}["species"] == "ferret"
    assert "is ferret" in verdict.sentences()[1]


def test_a_change_of_people_is_said_without_their_codes(copy_of_clinic, capsys):
    change(copy_of_clinic, "UPDATE cases SET supervisor = 'newboss' WHERE supervisor = 'oak'")
    asked = SimpleNamespace(clinic=copy_of_clinic, sheet=sheet_of(copy_of_clinic), code=None, json=True)
    assert command.run(asked) == 4
    said = capsys.readouterr()
    assert "supervised_by differs" in said.err
    assert json.loads(said.out)["holds"] is False
    for code in ("oak", "newboss", "elm"):
        assert code not in said.err + said.out


def test_a_row_that_left_and_a_row_that_came_are_both_said(copy_of_clinic):
    case = first_case(copy_of_clinic)
    change(copy_of_clinic, f"UPDATE cases SET case_id = 'NEW' WHERE case_id = '{case}'")
    change(copy_of_clinic, f"UPDATE case_people SET case_id = 'NEW' WHERE case_id = '{case}'")
    verdict = check_in(copy_of_clinic, sheet_of(copy_of_clinic))
    assert {one for one, _ in verdict.gone} == {case}
    assert {one for one, _ in verdict.new} == {"NEW"}


def test_a_file_that_was_edited_does_not_hold(copy_of_clinic):
    beside = sheet_of(copy_of_clinic).with_suffix(".json")
    stored = json.loads(beside.read_text(encoding="utf-8"))
    stored["rows"][0][3] = "5E"
    beside.write_text(json.dumps(stored), encoding="utf-8")
    assert check_unchanged(copy_of_clinic, beside).altered


def test_a_file_edited_together_with_its_hash_is_betrayed_by_the_page(copy_of_clinic):
    beside = sheet_of(copy_of_clinic).with_suffix(".json")
    stored = json.loads(beside.read_text(encoding="utf-8"))
    case = stored["rows"][0][0]
    change(copy_of_clinic, f"UPDATE cases SET procedure_group = 'other' WHERE case_id = '{case}'")
    stored["rows"] = [row[:4] + ["other" if row[0] == case else row[4]] + row[5:] for row in stored["rows"]]
    rows = [tuple(row) for row in stored["rows"]]
    sheet = check_unchanged(copy_of_clinic, beside).sheet
    stored["sha256"] = Sheet(sheet.trainee, sheet.period, sheet.first_day, sheet.last_day, rows).digest
    beside.write_text(json.dumps(stored), encoding="utf-8")
    verdict = check_in(copy_of_clinic, beside)
    assert verdict.same == len(rows)
    assert verdict.altered


def test_the_code_on_the_paper_is_compared(copy_of_clinic):
    page = sheet_of(copy_of_clinic)
    typed = check_unchanged(copy_of_clinic, page).sheet.code.lower().replace("-", " ")
    assert check_unchanged(copy_of_clinic, page, typed).holds
    assert check_unchanged(copy_of_clinic, page, "0000-0000-0000-0000-0000").altered


@pytest.mark.parametrize("text", [None, "not json", "[]", '{"form": 1}', '{"rows": 3}'])
def test_what_is_no_sheet_is_refused_in_words(copy_of_clinic, tmp_path, text):
    path = tmp_path / "other.json"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsFault) as fault:
        check_in(copy_of_clinic, path)
    assert "rounds report training" in str(fault.value)


def test_a_sheet_of_a_later_form_is_left_to_the_version_that_made_it(copy_of_clinic):
    beside = sheet_of(copy_of_clinic).with_suffix(".json")
    stored = json.loads(beside.read_text(encoding="utf-8"))
    beside.write_text(json.dumps({**stored, "form": 2}), encoding="utf-8")
    with pytest.raises(SettingsFault, match="form 2"):
        check_in(copy_of_clinic, beside)


def test_a_signed_sheet_is_never_overwritten_and_a_changed_period_is_printed_anew(copy_of_clinic):
    folder = copy_of_clinic / "reports" / "training" / "sheets"
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    settings = read_settings(copy_of_clinic / "clinic.toml")
    case = first_case(copy_of_clinic)
    change(copy_of_clinic, f"UPDATE cases SET species = 'ferret' WHERE case_id = '{case}'")
    with database.connect(copy_of_clinic / database.FILE) as db:
        compute(db, settings)
        write_pages(db, settings, copy_of_clinic)
    after = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert {name: after[name] for name in before} == before
    assert {name.rsplit("_", 1)[0] for name in after.keys() - before.keys()} == {"log_ash_2025-Q4"}


def test_equal_rows_give_equal_bytes(copy_of_clinic):
    folder = copy_of_clinic / "reports"
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    settings = read_settings(copy_of_clinic / "clinic.toml")
    shutil.rmtree(folder)
    with database.connect(copy_of_clinic / database.FILE) as db:
        compute(db, settings)
        write_pages(db, settings, copy_of_clinic)
        write_pages(db, settings, copy_of_clinic, share=True)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
