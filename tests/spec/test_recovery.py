"""Times from agent off to each stage, and what to make of a stage nobody charted. One rule a test."""

import pytest

COLUMNS = ("agent", "airway", "vaporizer_off_at", "extubation_at", "sternal_at", "standing_at", "recovery_end_at",
           "outcome", "outcome_at")  # fmt: skip


def stages(clinic, drugs="", vitals="", settings=None, **cells):
    case = {"agent": "isoflurane", "airway": "tracheal_tube", "vaporizer_off_at": "9:00", **cells}
    line = " | ".join(case.get(name, "") for name in COLUMNS)
    tables = {"cases": f"case_id | induction_at | {' | '.join(COLUMNS)}\nC1 | 8:00 | {line}"}
    if drugs:
        tables["drugs"] = "case_id | drug | kind | phase | given_at | stopped_at\n" + drugs
    if vitals:
        tables["vitals"] = "case_id | taken_at | parameter | value\n" + vitals
    record = clinic(settings=settings, **tables)
    rows = record.rows("recovery_stages", case_id="C1")
    return {row["measure"]: (row["status"], row["minutes"], row["seen"]) for row in rows}


def test_charted_stages_are_minutes_from_vaporizer_off(clinic):
    found = stages(clinic, extubation_at="9:05", sternal_at="9:12", standing_at="9:30", recovery_end_at="10:00")
    assert [found[name][1] for name in ("to_extubation", "to_sternal", "to_standing", "to_handover")] == [5, 12, 30, 60]


def test_zero_is_allowed_and_less_is_not(clinic):
    assert stages(clinic, extubation_at="9:00")["to_extubation"] == ("charted", 0, 1)
    assert stages(clinic, extubation_at="8:59")["to_extubation"] == ("negative", None, None)


def test_extubation_belongs_to_a_tracheal_tube(clinic):
    assert stages(clinic, airway="mask", extubation_at="9:05")["to_extubation"] == ("not_applicable", None, None)


def test_without_an_inhalant_the_last_maintenance_infusion_of_a_hypnotic_counts(clinic):
    infusions = """C1 | propofol | infusion | maintenance | 8:05 | 8:50
C1 | alfaxalone | infusion | maintenance | 8:50 | 9:10
C1 | fentanyl | infusion | maintenance | 8:05 | 9:30
C1 | propofol | infusion | recovery | 9:20 | 9:40"""
    found = stages(clinic, infusions, agent="none", sternal_at="9:30")
    assert found["to_sternal"] == ("charted", 20, 1)


def test_without_an_origin_nothing_is_judged(clinic):
    assert stages(clinic, vaporizer_off_at="", sternal_at="9:30")["to_sternal"] == ("no_origin", None, None)


@pytest.mark.parametrize("cells", [{"standing_at": "9:30"}, {"recovery_end_at": "9:30"}, {"outcome": "alive"}])
def test_a_stage_that_must_have_happened_but_was_not_charted_is_not_judged(clinic, cells):
    assert stages(clinic, extubation_at="9:05", **cells)["to_sternal"] == ("passed", None, None)


def test_an_animal_that_died_before_it_is_censored_then(clinic):
    found = stages(clinic, extubation_at="9:05", outcome="died", outcome_at="9:25")
    assert found["to_sternal"] == ("lost", 25, 0)


def test_a_death_days_later_does_not_censor_but_the_last_reading_does(clinic):
    cells = {"extubation_at": "9:05", "outcome": "died", "outcome_at": "+4 9:25"}
    assert stages(clinic, vitals="C1 | 9:20 | heart_rate | 90", **cells)["to_sternal"] == ("last_reading", 20, 0)
    assert stages(clinic, **cells)["to_sternal"] == ("unknown", None, None)


def test_a_reading_at_the_origin_is_not_after_it(clinic):
    assert stages(clinic, vitals="C1 | 9:00 | heart_rate | 90")["to_sternal"] == ("unknown", None, None)


@pytest.mark.parametrize(
    "cells, expected",
    [
        ({"sternal_at": "9:30"}, (1, 0)),
        ({"sternal_at": "9:31"}, (1, 1)),
        ({"outcome": "died", "outcome_at": "9:29"}, (0, None)),
        ({"outcome": "died", "outcome_at": "9:30"}, (1, 1)),
    ],
)
def test_prolonged_is_more_than_thirty_minutes_or_censored_at_thirty(clinic, cells, expected):
    case = {"vaporizer_off_at": "9:00", "extubation_at": "9:05", **cells}
    names = " | ".join(case)
    record = clinic(cases=f"case_id | induction_at | {names}\nC1 | 8:00 | {' | '.join(case.values())}")
    row = record.row("case_shares", case_id="C1", measure="prolonged_recovery")
    assert (row["assessable"], row["has"]) == expected
