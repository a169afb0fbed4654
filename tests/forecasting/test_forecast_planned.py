"""`[planned]` of clinic.toml: what it may say, and what it does to a forecast."""

import pytest

from pipeline.errors import SettingsFault
from pipeline.forecasting.caseload import CaseMix, method, use_a_case
from pipeline.forecasting.methods import METHODS
from pipeline.forecasting.outlook import outlook
from pipeline.forecasting.planned import read

MARCH_2026 = 2026 * 12 + 2
DENTAL = {"from": "2026-03", "procedure_group": "dental", "more_days_a_month": 6, "cases_a_day": 4}


def test_six_more_dental_days_a_month_from_march():
    (plan,) = read({"dental_days": DENTAL})
    assert plan.more_cases == 6 * 4
    assert not plan.holds(MARCH_2026 - 1)
    assert plan.holds(MARCH_2026) and plan.holds(MARCH_2026 + 99)
    assert plan.covers("cat", "dental") and not plan.covers("cat", "orthopedic")


def test_until_is_the_last_month():
    (plan,) = read({"fewer": {"from": "2026-03", "until": "2026-04", "more_cases_a_month": -10}})
    assert [plan.holds(MARCH_2026 + step) for step in (0, 1, 2)] == [True, True, False]


@pytest.mark.parametrize(
    "table, where, wanted",
    [
        ({**DENTAL, "form": 1}, "clinic.toml", "planned.x.from"),
        ({**DENTAL, "from": "march"}, "planned.x.from", '"2026-03"'),
        ({**DENTAL, "species": "dogs"}, "planned.x.species", "dog, cat"),
        ({**DENTAL, "more_days_a_month": "six"}, "planned.x.more_days_a_month", "a number"),
        ({**DENTAL, "more_cases_a_month": 9}, "planned.x", "one of more_cases_a_month, more_days_a_month, closed"),
        ({"from": "2026-03"}, "planned.x", "one of more_cases_a_month, more_days_a_month, closed"),
        ({"more_cases_a_month": 9}, "planned.x", "from"),
        ({"from": "2026-03", "more_cases_a_month": 9, "cases_a_day": 2}, "planned.x.cases_a_day", "more_days_a_month"),
        ({"from": "2026-03", "closed": False}, "planned.x.closed", "true"),
        ({**DENTAL, "until": "2026-01"}, "planned.x.until", "not before from"),
        ("six more dental days", "planned.x", "a [table]"),
    ],
)
def test_what_cannot_be_read_is_said(table, where, wanted):
    with pytest.raises(SettingsFault) as fault:
        read({"x": table})
    assert where in fault.value.where
    assert wanted in fault.value.wanted


def two_kinds(months=30):
    return CaseMix(MARCH_2026 - months, {("dog", "dental"): [20.0] * months, ("dog", "orthopedic"): [10.0] * months})


def test_extra_cases_are_shared_as_the_kinds_come():
    mix = CaseMix(0, {("dog", "dental"): [30.0] * 12, ("cat", "dental"): [10.0] * 12, ("dog", "other"): [5.0] * 12})
    (plan,) = read({"x": DENTAL})
    assert mix.extra(plan, MARCH_2026, 4) == {("dog", "dental"): 24 * 30 / 40, ("cat", "dental"): 24 * 10 / 40}
    assert mix.extra(plan, MARCH_2026 - 1, 4) == {}


def test_days_without_cases_a_day_use_the_clinic_s_own():
    (plan,) = read({"x": {"from": "2026-03", "more_days_a_month": 2}})
    assert sum(two_kinds().extra(plan, MARCH_2026, 3.5).values()) == pytest.approx(2 * 3.5)


def test_use_a_case_is_the_last_twelve_months():
    mix = CaseMix(0, {("dog", "dental"): [10.0] * 24})
    assert use_a_case(mix, {("dog", "dental"): [50.0] * 12 + [20.0] * 12}, 24) == {("dog", "dental"): 2.0}


def test_caseload_follows_a_mix_that_shifts_while_the_total_stays():
    # 30 cases a month throughout; cats use 1 mL, dogs 5 mL; half a year ago dogs went from 10 to 20
    mix = CaseMix(0, {("dog", "x"): [10.0] * 24 + [20.0] * 6, ("cat", "x"): [20.0] * 24 + [10.0] * 6})
    use = {("dog", "x"): [50.0] * 24 + [100.0] * 6, ("cat", "x"): [20.0] * 24 + [10.0] * 6}
    demand = [70.0] * 24 + [110.0] * 6
    assert method(mix, use).forecast(demand) == pytest.approx([20 * 5 + 10 * 1] * 3, rel=0.01)


def test_caseload_is_scaled_to_what_left_the_shelf():
    mix = CaseMix(0, {("dog", "x"): [10.0] * 24})
    use = {("dog", "x"): [50.0] * 24}
    assert method(mix, use).forecast([60.0] * 24) == pytest.approx([60.0] * 3)


def test_a_closed_month_ahead_needs_nothing():
    look = outlook([10.0, 12.0] * 12, METHODS, lambda ahead: None if ahead == 2 else [10.0, 12.0] * 12)
    assert [month.mean > 0 for month in look.months] == [True, False, True]
    assert look.months[1].high_95 == 0.0


def test_a_level_change_moves_every_method_by_just_that():
    values = [float(month % 5) + 1 for month in range(40)]
    plain = outlook(values, METHODS)
    more = outlook(values, METHODS, lambda ahead: [value + 24 for value in values])
    assert [month.mean for month in more.months] == pytest.approx([month.mean + 24 for month in plain.months], abs=0.05)
    assert more.mase == plain.mase


def test_too_few_months_say_so_and_still_have_a_range():
    look = outlook([4.0, 6.0, 5.0], METHODS)
    assert look.mase is None
    assert "3 known months are too few" in look.why
    assert look.months[0].low_95 < look.months[0].mean < look.months[0].high_95


def test_nothing_known_has_no_forecast():
    assert outlook([None, None], METHODS).months == []
