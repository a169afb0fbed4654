"""Targets against the log. Dates and numbers are invented; what a training body asks for is not known here."""

from datetime import date

import pytest

from pipeline.training.programme import Programme, Target, Trainee
from pipeline.training.targets import amount, fits, progress, span

ASH = Trainee(person="ash", start=date(2024, 9, 1))


def row(case, day=date(2024, 10, 1), role="primary", minutes=60.0, **more):
    return {
        "case_id": case, "start_day": day, "role": role, "minutes": minutes, "case_minutes": minutes,
        "species": "dog", "asa_class": 2, "technique": frozenset(), "supervised": True, **more,
    }  # fmt: skip


def target(amount=10, unit="cases", year=None, **criteria):
    return Target(name="Target", amount=amount, unit=unit, year=year, criteria=criteria)


def where(asked_for, rows, until, trainee=ASH, begins=date(2024, 1, 1), **programme):
    return progress(trainee, asked_for, Programme(**programme), rows, begins, until)


def test_a_case_counts_once_whatever_the_roles():
    rows = [row("C1"), row("C1", role="assisting"), row("C2")]
    assert amount(rows, {"role": ("primary", "assisting")}, "cases") == (2, 0)


def test_hours_of_two_overlapping_roles_are_never_more_than_the_time_in_the_case():
    rows = [row("C1", minutes=60.0, case_minutes=90.0), row("C1", role="assisting", minutes=60.0, case_minutes=90.0)]
    assert amount(rows, {"role": ("primary", "assisting")}, "hours") == (90 / 60, 0)
    assert amount(rows, {"role": ("primary",)}, "hours") == (60 / 60, 0)


def test_a_case_of_unknown_length_adds_no_hours_and_is_said():
    assert amount([row("C1", minutes=None), row("C2", minutes=30.0)], {}, "hours") == (30 / 60, 1)


def test_an_unknown_value_leaves_a_case_open_unless_something_else_rules_it_out():
    sick = {"species": ("dog",), "asa_class": (3, 4, 5)}
    rows = [row("C1", asa_class=None), row("C2", asa_class=None, species="cat"), row("C3", asa_class=3)]
    assert amount(rows, sick, "cases") == (1, 1)


def test_one_of_several_techniques_is_enough():
    assert fits(row("C1", technique=frozenset({"epidural"})), {"technique": ("epidural", "nerve_block")}) is True
    assert fits(row("C1"), {"technique": ("epidural",)}) is False


@pytest.mark.parametrize(
    "trainee, year, years, expected",
    [
        (ASH, 1, None, (date(2024, 9, 1), date(2025, 9, 1))),
        (ASH, 2, None, (date(2025, 9, 1), date(2026, 9, 1))),
        (ASH, None, 3, (date(2024, 9, 1), date(2027, 9, 1))),
        (ASH, None, None, (date(2024, 9, 1), None)),
        # joined in the second year: the first is not asked of them, and one year less is left
        (Trainee(person="elm", start=date(2025, 3, 1), year=2), 1, 3, None),
        (Trainee(person="elm", start=date(2025, 3, 1), year=2), 2, 3, (date(2025, 3, 1), date(2026, 3, 1))),
        (Trainee(person="elm", start=date(2025, 3, 1), year=2), None, 3, (date(2025, 3, 1), date(2027, 3, 1))),
        # left early
        (Trainee(person="oak", start=date(2024, 9, 1), leaves=date(2025, 1, 31)), 1, None,
         (date(2024, 9, 1), date(2025, 2, 1))),
        (Trainee(person="oak", start=date(2024, 9, 1), leaves=date(2025, 1, 31)), 2, None, None),
        (Trainee(person="fig", start=date(2024, 2, 29)), 2, None, (date(2025, 2, 28), date(2026, 2, 28))),
    ],
)  # fmt: skip
def test_years_of_training_run_from_anniversary_to_anniversary(trainee, year, years, expected):
    assert span(trainee, year, years) == expected


def test_only_cases_of_that_year_of_training_count():
    rows = [row("C1", date(2025, 8, 31)), row("C2", date(2025, 9, 1)), row("C3", date(2026, 9, 1))]
    assert where(target(year=2), rows, date(2026, 9, 30))["done"] == 1


def test_pace_is_what_is_missing_over_the_time_that_is_left():
    rows = [row(f"C{i}", date(2024, 9, 1 + i)) for i in range(4)]
    found = where(target(amount=10, year=1), rows, date(2025, 3, 1))
    left_days = (date(2025, 8, 31) - date(2025, 3, 1)).days
    gone_days = (date(2025, 3, 1) - date(2024, 9, 1)).days + 1
    assert found["missing"] == 10 - 4
    assert found["pace_needed"] == pytest.approx(6 / (left_days / (365.25 / 12)))
    assert found["pace_so_far"] == pytest.approx(4 / (gone_days / (365.25 / 12)))
    assert found["state"] == "faster pace needed"


@pytest.mark.parametrize(
    "asked_for, done, until, years, state",
    [
        (target(amount=3), 3, date(2025, 1, 1), 1, "met"),
        (target(amount=12), 6, date(2025, 2, 27), 1, "on pace"),
        (target(amount=12), 5, date(2025, 2, 27), 1, "faster pace needed"),
        (target(amount=12), 5, date(2025, 8, 31), 1, "ended short"),
        (target(amount=12), 5, date(2026, 8, 31), 1, "ended short"),
        (target(amount=12, year=2), 0, date(2025, 2, 1), None, "not begun"),
        (target(amount=12), 5, date(2025, 2, 1), None, "open"),
    ],
)
def test_states(asked_for, done, until, years, state):
    assert where(asked_for, [row(f"C{i}") for i in range(done)], until, years=years)["state"] == state


def test_a_target_that_names_no_role_takes_the_programmes():
    rows = [row("C1"), row("C2", role="assisting"), row("C3", role="observing"), row("C4", role=None)]
    assert where(target(), rows, date(2025, 1, 1))["done"] == 2
    assert where(target(), rows, date(2025, 1, 1))["undecided"] == 1
    assert where(target(), rows, date(2025, 1, 1), roles=("primary",))["done"] == 1
    assert where(target(role=("observing",)), rows, date(2025, 1, 1))["done"] == 1


def test_pace_so_far_counts_from_the_day_the_records_begin():
    rows = [row(f"C{i}", date(2025, 1, 10 + i)) for i in range(3)]
    found = where(target(amount=10, year=1), rows, date(2025, 3, 1), begins=date(2025, 1, 1))
    assert found["pace_so_far"] == pytest.approx(3 / ((31 + 28 + 1) / (365.25 / 12)))


def test_a_target_that_ended_is_not_called_short_where_the_records_miss_its_beginning():
    rows = [row("C1", date(2025, 7, 1))]
    assert where(target(year=1), rows, date(2026, 3, 1), begins=date(2025, 6, 1))["state"] == "not covered"
    assert where(target(year=1), rows, date(2026, 3, 1), begins=date(2024, 9, 1))["state"] == "ended short"


def test_a_year_that_was_over_before_the_records_begin_is_not_judged():
    found = where(target(year=1), [], date(2026, 3, 1), begins=date(2025, 9, 1))
    assert (found["state"], found["pace_so_far"], found["pace_needed"]) == ("not covered", None, None)
