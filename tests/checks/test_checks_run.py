"""A run over an empty and a tiny clinic: nothing judged is nothing passed, and each run is kept."""

import json

from clinic_rows import fill_clocks

from pipeline import checks


def outcomes(verdicts) -> dict[str, str]:
    return {one.rule_id: one.outcome for one in verdicts.outcomes}


def test_an_empty_clinic_passes_nothing_and_stops_the_page(db, clinic_settings):
    db.execute("DELETE FROM files")
    verdicts = checks.run(db, clinic_settings)
    assert verdicts.worst_stop.rule_id == "cases_present"
    assert set(outcomes(verdicts).values()) == {"failed", "not_applicable"}
    assert [rule for rule, outcome in outcomes(verdicts).items() if outcome == "failed"] == ["cases_present"]
    assert verdicts.sentences()[0].startswith("STOP cases: no case is loaded")


def test_a_failing_row_is_named_by_file_and_line_and_a_second_run_is_kept_beside_the_first(db, clinic_settings):
    db.execute(
        "INSERT INTO cases (case_id, species, weight_kg, extubation_at, vaporizer_off_at, source_row) VALUES "
        "('A1', 'cat', 4200, '2026-01-05 10:00', '2026-01-05 10:10', 7)"
    )
    fill_clocks(db)
    verdicts = checks.run(db, clinic_settings)
    assert outcomes(verdicts)["cases_weight_kg_plausible"] == "failed"
    failures = db.execute(
        "SELECT name, row, case_id, column_name, value FROM check_failures "
        "WHERE rule_id IN ('cases_weight_kg_plausible', 'cases_extubation_after_vaporizer_off') ORDER BY rule_id DESC"
    ).fetchall()
    assert failures == [
        ("records.csv", 7, "A1", "weight_kg", "4200"),
        ("records.csv", 7, "A1", "extubation_at",
         "extubation_at 2026-01-05 10:00; vaporizer_off_at 2026-01-05 10:10"),
    ]  # fmt: skip
    assert checks.run(db, clinic_settings).run_id == verdicts.run_id + 1
    assert db.execute("SELECT count(DISTINCT run_id), max(run_id) FROM check_outcomes").fetchall() == [(2, 2)]
    assert json.loads(json.dumps(verdicts.as_dict()))["failed"] == verdicts.count("failed")


def test_a_code_outside_the_list_is_counted_by_both(db, clinic_settings):
    db.execute("INSERT INTO cases (case_id, species) VALUES ('A1', 'dog'), ('A2', 'dragon'), ('A3', NULL)")
    fill_clocks(db)
    found = {one.rule_id: one for one in checks.run(db, clinic_settings).outcomes}["cases_species_code"]
    assert (found.in_scope, found.judged, found.failed, found.not_judged) == (3, 2, 1, 1)
    assert found.counted_by == "sql and great expectations"


def test_a_run_is_silent(db, clinic_settings, capfd):
    checks.run(db, clinic_settings)
    assert capfd.readouterr() == ("", "")
