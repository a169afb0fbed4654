"""The records report: every failing row can be found from what is printed, and nothing is printed that may not be."""

from dataclasses import replace

import pytest
from clinic_rows import SETTINGS, fill_clocks, sound_clinic

from pipeline import checks, settings
from pipeline.checks import pages
from pipeline.database import connect
from pipeline.settings import Privacy

NASTY = "<img src=x onerror=alert(1)>"


@pytest.fixture(scope="module")
def faulty():
    """The sound clinic with a few slips, one of them in words that a browser would run."""
    with connect() as db:
        sound_clinic(db)
        db.execute("UPDATE cases SET species = ? WHERE case_id = 'A3'", [NASTY])
        db.execute("UPDATE cases SET weight_kg = 4200, source_row = 777 WHERE case_id = 'A6'")
        db.execute("UPDATE cases SET asa_class = NULL WHERE case_id IN ('A1', 'A2')")
        db.execute("INSERT INTO quarantine (file_id, name, row, table_name, column_name, rule, reason, month_no) "
                   "SELECT 1, 'records.csv', 900 + n, 'cases', 'weight_kg', 'not_a_number', 'not a number', 2026 * 12 "
                   "FROM range(3) AS r(n)")  # fmt: skip
        fill_clocks(db)
        checks.run(db, settings.from_dict(SETTINGS))
        yield db


@pytest.fixture
def written(faulty, tmp_path):
    def write(share=False, people=False):
        chosen = replace(settings.from_dict(SETTINGS), privacy=Privacy(people_on_pages=people))
        checks.run(faulty, chosen)
        paths = pages.write(faulty, chosen, tmp_path, share)
        return paths, paths[0].read_text(encoding="utf-8")

    return write


def test_a_failing_row_stands_with_its_file_line_value_and_fix(written):
    paths, page = written()
    row = page[page.index("The body weight is outside what is possible: 1") :]
    for text in ("grams or pounds typed as kilograms", "records.csv", "777", "A6", "4200"):
        assert text in row[:2500]
    sheet = next(path for path in paths if path.name == "records_to_fix_to-fix.csv").read_text(encoding="utf-8")
    assert "records.csv,777,A6,weight_kg,4200,The body weight is outside what is possible." in sheet
    assert page.index("What the loads did") < page.index("What failed")
    assert "Rows of 1 file wait in to_fix and are in no measure." in page
    assert "Not whole, and marked so on every chart: in 2026-01, 3 of 27 cases wait in to_fix." in page


def test_all_listed_rows_are_in_the_sheet(faulty, written):
    paths, _ = written()
    sheet = next(path for path in paths if path.name == "records_to_fix_to-fix.csv").read_text(encoding="utf-8")
    listed = faulty.execute("SELECT count(*) FROM check_failures").fetchall()[0][0]
    assert listed > 0
    assert len(sheet.splitlines()) == 1 + listed


def test_what_a_record_holds_is_shown_and_never_run(written):
    _, page = written()
    assert NASTY not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page


def test_a_shared_page_names_no_case_file_or_small_count(written):
    paths, page = written(share=True)
    assert all("shared" in path.parts for path in paths)
    for text in ("A6", "records.csv", "4200", "777", "Where to mend it"):
        assert text not in page
    assert "under 5" in page


def test_people_stand_on_the_page_only_where_asked(written):
    _, without = written()
    _, asked = written(people=True)
    _, shared = written(people=True, share=True)
    assert "By person" in asked
    assert "By person" not in without + shared
    assert "N1" not in without + shared


def test_equal_runs_give_equal_bytes_and_no_outside_address(faulty, tmp_path):
    chosen = settings.from_dict(SETTINGS)
    first = pages.write(faulty, chosen, tmp_path / "one")[0].read_bytes()
    assert first == pages.write(faulty, chosen, tmp_path / "two")[0].read_bytes()
    assert b'src="http' not in first and b'href="http' not in first


def test_without_a_run_the_page_says_what_to_do(tmp_path):
    with connect() as db:
        paths = pages.write(db, settings.from_dict(SETTINGS), tmp_path)
    assert "Run `rounds check`" in paths[0].read_text(encoding="utf-8")


def test_a_set_aside_row_is_listed_for_the_measures_and_said(db, clinic_settings):
    db.execute(
        "INSERT INTO cases (case_id, induction_at) VALUES ('A1', '2031-01-05 10:00'), ('A2', '2026-01-05 10:00')"
    )
    fill_clocks(db)
    checks.run(db, clinic_settings)
    aside = db.execute("SELECT table_name, source_file, source_row, rule_id FROM set_aside_rows").fetchall()
    assert aside == [("cases", 1, 2, "cases_not_in_future")]
    lead = [text for text, _ in pages.page(db, clinic_settings).lead]
    assert "1 row is set aside: in no measure until mended." in lead
