"""Funnel limits against an independent implementation, over-dispersion against a published meta-analysis."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from pipeline.statistics.funnel import binomial_limits, funnel, overdispersion

# Spiegelhalter 2005, Stat Med 24:1185-1202, appendix A.1, target 0.1; figures frozen from clinical-qikit 0.5.0,
# dist.binomial_quantiles, at tails 0.001, 0.025, 0.975, 0.999.
QIKIT = {
    20: (0, 0, 0.22846760705, 0.3351718217),
    50: (0, 0.01386292696, 0.17972272762, 0.24012841876),
    100: (0.01417886501, 0.04038059552, 0.15771861164, 0.1983567185),
    500: (0.059988686548, 0.073447528312, 0.126014898892, 0.142689312964),
}

# Colditz 1994, 13 trials of a vaccine, as analysed in Viechtbauer W 2010, J Stat Softw 36(3): events and
# non-events treated, then control. Q 152.233, tau² 0.3088 (DerSimonian-Laird, log relative risks).
TRIALS = [
    (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
    (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232), (17, 1699, 65, 1600),
    (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
]  # fmt: skip

groups = st.lists(
    st.integers(1, 400).flatmap(lambda cases: st.tuples(st.integers(0, cases), st.just(cases))), min_size=2, max_size=8
)


@pytest.mark.parametrize("cases", QIKIT)
def test_exact_limits_agree_with_another_implementation(cases):
    low_998, low_95, high_95, high_998 = QIKIT[cases]
    assert binomial_limits(cases, 0.1, 0.95) == pytest.approx((low_95, high_95), abs=1e-9)
    assert binomial_limits(cases, 0.1, 0.998) == pytest.approx((low_998, high_998), abs=1e-9)


def test_overdispersion_is_dersimonian_and_lairds_where_nothing_is_winsorised():
    a, b, c, d = np.array(TRIALS, float).T
    effect = np.log(a / (a + b)) - np.log(c / (c + d))
    error = np.sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))
    pooled = np.average(effect, weights=error**-2)
    z = (effect - pooled) / error
    phi, tau2 = overdispersion(z, error, winsorise=0)
    assert len(z) * phi == pytest.approx(152.233, abs=0.0005)
    assert tau2 == pytest.approx(0.3088, abs=0.00005)
    assert tau2 == pytest.approx(0.308760262862, abs=1e-9)  # statsmodels 0.15.0 combine_effects


def test_ten_equal_trusts_without_a_signal():
    """NHSRdatasets LOS_model (CC0): 53 deaths in 300 stays, 30 at each of ten sites; the lowest 3, the highest 8,
    none outside. The middle eight are set so that the sum is 53: only the extremes are published facts here."""
    found = funnel([3, 8, 5, 5, 5, 5, 5, 5, 6, 6], [30] * 10)
    assert found.target == pytest.approx(53 / 300)
    share = np.array([3, 8]) / 30
    assert (share > found.low_95[:2]).all() and (share < found.high_95[:2]).all()
    assert found.tau2 == 0


@given(st.integers(1, 500), st.floats(0.02, 0.98))
def test_limits_nest_and_mirror(cases, target):
    low_95, high_95 = binomial_limits(cases, target, 0.95)
    low_998, high_998 = binomial_limits(cases, target, 0.998)
    assert low_998 <= low_95 <= high_95 <= high_998
    assert binomial_limits(cases, 1 - target, 0.95) == pytest.approx((1 - high_95, 1 - low_95), abs=2 / cases)


@given(st.integers(20, 500), st.floats(0.1, 0.9))
def test_an_unchanged_group_falls_outside_about_as_often_as_said(cases, target):
    """The count is whole, the limit interpolated: each side may miss its tail by one count's probability."""
    low, high = binomial_limits(cases, target, 0.95)
    outside = binom.cdf(np.ceil(low * cases) - 1, cases, target) + binom.sf(np.floor(high * cases), cases, target)
    assert abs(outside - 0.05) < 2 * binom.pmf(round(cases * target), cases, target)


@given(groups, st.randoms())
def test_the_order_of_groups_is_nothing(rows, shuffler):
    one = funnel(*np.array(rows).T)
    mixed = list(rows)
    shuffler.shuffle(mixed)
    other = funnel(*np.array(mixed).T)
    assert (one is None) == (other is None)
    if one:
        assert (other.target, other.phi, other.tau2) == pytest.approx((one.target, one.phi, one.tau2))


def test_spread_beyond_chance_widens_the_limits_and_chance_does_not():
    calm, wild = funnel([10] * 8, [100] * 8), funnel([2, 4, 18, 20, 1, 22, 10, 9], [100] * 8)
    assert (calm.tau2, calm.phi) == (0, 0)
    assert calm.wide_high_998 - calm.target == pytest.approx(np.full(8, 3.090232 * 0.03), abs=1e-6)
    assert wild.tau2 > 0 and (wild.wide_high_998 > wild.high_998).all()


@pytest.mark.parametrize("events, cases", [([0, 0], [0, 0]), ([0, 0], [5, 9]), ([5, 9], [5, 9]), ([], [])])
def test_nothing_to_compare_is_no_funnel(events, cases):
    assert funnel(events, cases) is None


def test_a_group_without_cases_has_no_limits():
    found = funnel([1, 0, 4], [10, 0, 20])
    assert np.isnan([found.low_95[1], found.high_998[1], found.wide_low_95[1], found.z[1]]).all()
    assert found.target == pytest.approx(5 / 30)


def test_a_single_group_is_its_own_target():
    found = funnel([4], [20])
    assert (found.phi, found.tau2, found.z[0]) == (1, 0, 0)
