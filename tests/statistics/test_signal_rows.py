"""What a chart of months says: each rule on a series made to break it, and what must change nothing."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, fisher_exact, poisson

from pipeline.statistics.charts import Cases, Series, chart, from_results
from pipeline.statistics.gaps import clusters, draw_events, judge_gaps, judge_one
from pipeline.statistics.phases import Change
from pipeline.statistics.signals import signals, table

YEAR = [6, 5, 7, 6, 4, 8, 6, 5, 7, 6, 6, 6]
"""Twelve calm months of 60 cases: 72 of 720, median 6."""

WARMING = Change("warming program", date(2025, 1, 1), ("hypothermia",))


def fired(series, changes=()):
    return {(one.rule, one.side): one for one in signals(chart(series, list(changes)))}


def test_a_month_beyond_the_limits_is_told_with_its_counts(share):
    found = fired(share([*YEAR, 6, 16], 60))
    one = found["limits", "above"]
    assert (one.since, one.until, one.points, one.recent) == ("2025-02", "2025-02", 1, True)
    assert (one.parts["numerator"], one.parts["denominator"]) == (16, 60)
    assert one.parts["limit"] == pytest.approx(0.1 + 3 * np.sqrt(0.1 * 0.9 / 60))
    assert one.strength == pytest.approx(14 * 2 * binom.sf(15, 60, 0.1))
    assert "cases of 2025-02" in one.look


def test_a_lasting_shift_is_dated_from_its_first_month(share):
    one = fired(share([*YEAR, 6, 16, 17, 7, 18, 19], 60))["limits", "above"]
    assert (one.since, one.until, one.points) == ("2025-02", "2025-06", 4)


def test_an_old_excursion_is_kept_but_is_not_news(share):
    one = fired(share([*YEAR, 16, 6, 6, 5, 7, 6], 60))["limits", "above"]
    assert (one.since, one.until, one.recent) == ("2025-01", "2025-01", False)


def test_excursions_months_apart_are_not_one_shift(share):
    assert fired(share([*YEAR, 16, 6, 6, 5, 7, 16], 60))["limits", "above"].since == "2025-06"


def test_a_long_run_below_the_baseline_median(share):
    """Eight months at 4 or 5 of 60: inside the limits, nine points off the median before them at most."""
    one = fired(share([*YEAR, 5, 4, 5, 4, 5, 4, 5, 4], 60))["run", "below"]
    assert (one.since, one.until, one.points, one.recent) == ("2025-01", "2025-08", 8, True)
    assert (one.parts["numerator"], one.parts["denominator"]) == (36, 480)
    assert (one.parts["other_numerator"], one.parts["other_denominator"]) == (72, 720)


def test_months_that_come_in_stretches_cross_too_rarely(values):
    drift = [10 + 0.5 * i for i in range(12)] + [16.2, 16.0, 16.4, 16.1]
    assert ("crossings", "") in fired(values(drift))


def test_a_stated_change_is_held_against_the_months_before(share):
    one = fired(share([*YEAR, 1, 0, 1], 60), [WARMING])["change", "below"]
    assert (one.since, one.points, one.parts["before_points"]) == ("2025-01", 3, 12)
    assert one.parts["change"] == "warming program"
    assert one.parts["difference"] == pytest.approx(2 / 180 - 72 / 720)
    assert one.parts["difference_low"] < one.parts["difference"] < one.parts["difference_high"] < 0
    assert ("change", "below") not in fired(share([*YEAR, 1, 0, 1], 60, measure="complication"), [WARMING])


def test_after_eight_months_a_stated_change_has_limits_of_its_own(share):
    series = share([*YEAR, *[1, 2, 1, 2, 1, 2, 1, 2]], 60)
    before, after = chart(series), chart(series, [WARMING])
    assert before.centre[-1] == pytest.approx(0.1)
    assert (after.centre[0], after.centre[-1]) == (pytest.approx(0.1), pytest.approx(12 / 480))
    assert {one.rule for one in signals(after)} == {"change"}
    assert "run" in {one.rule for one in signals(before)}


def test_too_few_months_have_no_limits_and_say_so(share):
    found = chart(share(YEAR[:7], 60))
    assert (found.kind, signals(found)) == ("none", [])
    assert np.isnan(found.high).all()
    assert "7 complete months" in found.why and "8 needed" in found.why
    assert np.isfinite(chart(share(YEAR[:8], 60)).high).all()


def test_months_after_the_baseline_do_not_move_the_limits(share):
    assert chart(share([*YEAR, 6, 30, 0], 60)).high[:12] == pytest.approx(chart(share([*YEAR, 6], 60)).high[:12])


def test_a_partial_month_is_hollow_and_in_no_rule(share):
    found = chart(share([*YEAR, 6, 60], 60, partial=1))
    assert found.hollow.tolist() == [False] * 13 + [True]
    assert found.values[-1] == 1 and np.isnan(found.high[-1])
    assert signals(found) == []


def test_a_month_without_a_case_to_judge_is_in_no_rule(share):
    cases = np.array([60] * 12 + [0, 60])
    found = chart(share(np.array([*YEAR, 0, 6]), cases))
    assert np.isnan(found.values[12]) and found.side[12] == 0
    assert len(found.months) == 13 and signals(found) == []


def test_a_lower_limit_of_minutes_stops_at_zero(values):
    assert (chart(values([1, 9, 2, 8, 1, 9, 2, 8, 1])).low == 0).all()


def test_rates_and_values_have_their_own_charts(values):
    months = [f"2024-{month:02}" for month in range(1, 10)]
    rate = Series("arrest", "rate", months, [0.05] * 8 + [0.175], [True] * 9, [4] * 8 + [14], [80.0] * 9, unit="h")
    found = chart(rate)
    assert (found.kind, found.labels) == ("u", months)
    one = {signal.rule: signal for signal in signals(found)}["limits"]
    centre = found.centre[0] * 80
    assert one.strength == pytest.approx(9 * 2 * poisson.sf(13, centre))
    jump = fired(values([20, 21, 19, 20, 22, 20, 19, 21, 20, 40]))["limits", "above"]
    assert jump.parts["value"] == 40


# --- rare events ---------------------------------------------------------------------------------------------------


def test_gaps_count_the_cases_between():
    found = judge_one(np.array([0, 0, 1, 1, 0, 1, 0, 0]), None, np.full(8, True))
    assert (found.ends.tolist(), found.lengths.tolist()) == ([2, 3, 5, 7], [2, 0, 1, 2])
    hours = judge_one(np.array([0, 1, 0, 1, 0]), np.array([2.0, 1.0, 0.5, 3.0, 4.0]), np.full(5, True))
    assert hours.lengths.tolist() == [3.0, 3.5, 4.0]


@pytest.mark.parametrize("weight", [None, "hours"])
def test_many_series_are_judged_as_each_alone(weight):
    drawn = np.random.default_rng(20260101)
    has = drawn.random((200, 150)) < np.linspace(0, 0.2, 200)[:, None]
    weight = None if weight is None else drawn.exponential(2.0, 150)
    base = np.arange(150) < 60
    together = judge_gaps(*np.nonzero(has), 200, weight, base)
    for number, row in enumerate(has):
        alone = judge_one(row, weight, base)
        count = row.sum() + 1
        assert np.isnan(together.lengths[number, :-count]).all()
        assert not together.signs[number, :-count].any() and not together.side[number, :-count].any()
        for name in ("ends", "lengths", "side", "signs"):
            assert getattr(together, name)[number, -count:].tolist() == getattr(alone, name).tolist()
        assert together.rate[number] == pytest.approx(alone.rate, nan_ok=True)


@pytest.mark.parametrize("chance", [0.004, 0.05, 0.6])
def test_drawn_events_fall_on_each_case_with_its_chance_and_by_itself(chance):
    """20,000 series of 20 cases with chances from half to all of it: the mean of each case, the variance of the sum,
    which independent cases alone give, and a neighbor's mean where a case has it. 4 standard errors."""
    chances = chance * np.linspace(0.5, 1, 20)
    row, at = draw_events(-np.log1p(-chances), 20_000, np.random.default_rng(20260101))
    has = np.zeros((20_000, 20))
    has[row, at] = 1
    assert len(row) == has.sum()
    assert np.abs((has.mean(0) - chances) / np.sqrt(chances * (1 - chances) / 20_000)).max() < 4
    variance = (chances * (1 - chances)).sum()
    assert has.sum(1).var() == pytest.approx(variance, rel=4 * np.sqrt(2 / 20_000 + 1 / (20_000 * variance)))
    after = has[has[:, 9] == 1, 10]
    assert after.mean() == pytest.approx(chances[10], abs=4 * np.sqrt(chances[10] / len(after)))


def test_a_long_gap_is_beyond_the_limit_while_still_open(share):
    events = [1, 0, 1, 1, 0, 1, 1, 0, 1, 0, 1, 1] + [0] * 24
    found = chart(share(events, 60))
    assert found.kind == "g" and found.hollow[-1]
    one = fired(share(events, 60))["limits", "above"]
    assert one.recent and one.parts["gap"] == "cases"
    assert one.parts["value"] == 59 + 24 * 60


def test_an_open_gap_is_not_too_short_yet():
    """The last hour brought an event: a gap of 0 h so far, under the lower limit of a t chart."""
    has = np.array([0, 0, 1, 0, 0, 1, 0, 0, 1])
    gap = judge_one(has, np.full(9, 1.5), np.full(9, True))
    assert gap.lengths[-1] == 0 < gap.limits.low
    assert (gap.side == 0).all() and gap.signs[-1] == 0


def test_harm_shows_where_the_baseline_holds_no_event_at_all(share):
    found = chart(share([0] * 12 + [0, 2, 3], 60))
    assert np.isnan(found.high).all() and "the baseline holds none" in found.why
    one = {signal.rule: signal for signal in signals(found)}["cluster"]
    assert (one.parts["numerator"], one.parts["denominator"]) == (5, 180)
    assert (one.parts["other_numerator"], one.parts["other_denominator"]) == (0, 720)
    assert one.strength == pytest.approx(3 * fisher_exact([[5, 175], [0, 720]], "greater").pvalue)


@given(st.lists(st.integers(0, 5), min_size=13, max_size=16))
@settings(deadline=None, max_examples=30)
def test_three_months_together_are_fishers_exact_test(events):
    cases = np.full(len(events), 40)
    at, tails = clusters(np.array(events), cases, np.arange(12), np.arange(len(events)))
    for month, tail in zip(at, tails, strict=True):
        inside = range(max(12, month - 2), month + 1)
        having, before = sum(events[i] for i in inside), sum(events[:12])
        square = [[having, 40 * len(inside) - having], [before, 480 - before]]
        assert tail == pytest.approx(fisher_exact(square, "greater").pvalue, abs=1e-9)


def test_where_nearly_all_have_it_the_cases_without_it_are_counted(share):
    events = 60 - np.array([1, 0, 1, 1, 0, 1, 1, 0, 1, 0, 1, 1, 3, 4, 5])
    found = chart(share(events, 60))
    assert found.kind == "g" and "without it" in found.why
    assert {one.rule for one in signals(found)} >= {"cluster"}


def test_a_rare_measure_without_the_order_of_its_cases_has_no_limits(share):
    found = chart(share([1, 0] * 6, 60, by_case=False))
    assert (found.kind, signals(found)) == ("none", [])
    assert "order of the cases" in found.why


def test_time_between_rare_events_of_a_rate():
    months = [f"2024-{m:02}" for m in range(1, 13)] + ["2025-01", "2025-02"]
    of_case = np.repeat(months, 40)
    has = np.zeros(560, int)
    has[[30, 100, 260, 330, 400, 500, 505, 510, 515, 520, 525, 530]] = 1
    events = [int(has[of_case == month].sum()) for month in months]
    rate = Series("arrest", "rate", months, [e / 60 for e in events], [True] * 14, events, [60.0] * 14, unit="h",
                  cases=Cases(of_case.tolist(), has.tolist(), [1.5] * 560))  # fmt: skip
    found = chart(rate)
    assert found.kind == "t"
    assert found.values[0] == 31 * 1.5
    one = {signal.rule: signal for signal in signals(found)}["cluster"]
    assert (one.since, one.until) == ("2025-01", "2025-02")


# --- what must change nothing --------------------------------------------------------------------------------------

counts = st.lists(st.integers(2, 58), min_size=8, max_size=26)
quick = settings(deadline=None, max_examples=60)


@given(counts)
@quick
def test_turning_the_outcome_turns_every_side(share, events):
    one, other = chart(share(events, 60)), chart(share(60 - np.array(events), 60))
    assert other.side.tolist() == (-one.side).tolist()
    turned = {"above": "below", "below": "above", "": ""}
    key = [(signal.rule, signal.side, signal.since, signal.points) for signal in signals(one)]
    assert sorted(key) == sorted((s.rule, turned[s.side], s.since, s.points) for s in signals(other))


@given(st.lists(st.floats(1, 90), min_size=8, max_size=26), st.floats(0.1, 20))
@quick
def test_other_units_change_no_signal_of_a_value(values, numbers, factor):
    one, other = (signals(chart(values(np.array(numbers) * by))) for by in (1, factor))
    assert [(s.rule, s.side, s.since) for s in one] == [(s.rule, s.side, s.since) for s in other]
    assert [s.strength for s in one] == pytest.approx([s.strength for s in other])


@given(counts)
@quick
def test_signals_come_strongest_first_and_are_probabilities(share, events):
    strengths = [one.strength for one in signals(chart(share(events, 60)))]
    assert strengths == sorted(strengths)
    assert all(0 <= strength <= 1 for strength in strengths)


@given(counts)
@quick
def test_a_change_stated_for_another_measure_changes_nothing(share, events):
    other = Change("new circuits", date(2024, 10, 1), ("rebreathing",))
    assert signals(chart(share(events, 60), [other])) == signals(chart(share(events, 60)))


def test_series_of_results_rows_in_any_order():
    rows = pd.DataFrame(
        {
            "measure": "hypothermia", "unit": "share", "period": ["2024-03", "2024-01", "2024-02", "all", "2024-04"],
            "by": "site", "level": "north", "numerator": [3, 1, 2, 6, 4], "denominator": [30, 10, 20, 60, 40],
            "value": 0.1, "method": ["Wilson 95 %"] * 4 + ["Wilson 95 %; partial"],
        }
    )  # fmt: skip
    series = from_results(rows, "share", until="2024-02")
    assert series.months == ["2024-01", "2024-02", "2024-03", "2024-04"]
    assert series.complete == [True, True, False, False]
    assert (series.numerator, series.level) == ([1, 2, 3, 4], "north")


def test_the_signals_table_has_what_where_since_when_how_strong_and_what_to_look_at(share):
    rows = table(signals(chart(share([*YEAR, 6, 16], 60))), sentence=lambda one: f"{one.measure} fired")
    assert list(rows.columns) == [
        "measure", "by", "level", "chart", "rule", "side", "since", "until", "points", "strength", "recent", "look",
        "sentence",
    ]  # fmt: skip
    assert rows.loc[0, ["measure", "rule", "since", "sentence"]].tolist() == [
        "hypothermia", "limits", "2025-02", "hypothermia fired",
    ]  # fmt: skip
    assert table([], str).empty
