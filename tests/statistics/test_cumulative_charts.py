"""EWMA and CUSUM against NIST and Montgomery, run lengths against printed tables, risk adjustment against Steiner."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.statistics.cusum import risk_adjusted, scores, tabular
from pipeline.statistics.ewma import ewma

# NIST/SEMATECH e-Handbook 6.3.2.4: lambda 0.3, start 50, s 2.0539, k 3; two places. It prints the lower limit as
# 47.4115, cut off from 47.41157.
NIST_EWMA = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4,
             53.6, 52.1]  # fmt: skip
NIST_AVERAGES = [50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38,
                 49.92, 50.73, 51.23, 51.94, 51.99]  # fmt: skip

# 6.3.2.3: target 325, k 0.3175, h 4.1959; row 10 down is 0.255 exactly and printed 0.25.
NIST_CUSUM = [324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15,
              328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35]  # fmt: skip
NIST_UP = [0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.0, 19.04]
NIST_DOWN = [0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0]

# Montgomery DC 2012, Example 9.1, Tables 9.1 and 9.2: target 10, k 0.5, h 5.
MONTGOMERY = [9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34, 9.03, 11.47, 10.51, 9.4, 10.08, 9.37,
              10.62, 10.31, 8.52, 10.84, 10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31, 10.52]  # fmt: skip
MONTGOMERY_UP = [0, 0, 0, 1.16, 2.82, 2.5, 0.04, 1.0, 0, 0, 0, 0.97, 0.98, 0, 0, 0, 0.12, 0, 0, 0.34, 0.74, 0, 1.79,
                 2.79, 2.89, 3.47, 3.35, 4.47, 5.28]  # fmt: skip

# Steiner's Parsonnet scores 0 and 50: logit p = -3.68 + 0.077 score; survived, died, survived, died.
PARSONNET = 1 / (1 + np.exp(3.68 - 0.077 * np.array([0, 0, 50, 50])))
DIED = [0, 1, 0, 1]


def test_ewma_matches_nist():
    found = ewma(NIST_EWMA, target=50, sigma=2.0539, weight=0.3, steady=True)
    assert found.average == pytest.approx(NIST_AVERAGES, abs=0.005 + 1e-9)
    assert (found.high[0], found.low[-1]) == pytest.approx((52.5884, 47.4115), abs=1e-4)


def test_ewma_limits_open_to_the_steady_ones():
    """First exact limit: target + 3 sigma lambda, here 51.84851."""
    exact = ewma(NIST_EWMA, target=50, sigma=2.0539, weight=0.3)
    steady = ewma(NIST_EWMA, target=50, sigma=2.0539, weight=0.3, steady=True)
    assert exact.high[0] == pytest.approx(51.84851)
    assert (np.diff(exact.high) > 0).all()
    assert exact.high[-1] == pytest.approx(steady.high[-1], abs=1e-4)


@given(st.lists(st.floats(-50, 50), min_size=1, max_size=30), st.floats(0.05, 1))
def test_ewma_is_the_weighted_sum_it_says(values, weight):
    plain = [
        sum(weight * (1 - weight) ** (t - i) * values[i] for i in range(t + 1)) + (1 - weight) ** (t + 1) * 7
        for t in range(len(values))
    ]
    assert ewma(values, target=7, sigma=1, weight=weight).average == pytest.approx(plain, abs=1e-9)


def test_cusum_matches_nist():
    found = tabular(NIST_CUSUM, target=325, slack=0.3175, limit=4.1959)
    assert found.up == pytest.approx(NIST_UP, abs=0.0051)
    assert found.down == pytest.approx(NIST_DOWN, abs=0.0051)
    assert (found.first_up, found.first_down) == (14 - 1, None)


def test_cusum_matches_montgomery():
    found = tabular(MONTGOMERY, target=10, slack=0.5, limit=5)
    assert found.up[:29] == pytest.approx(MONTGOMERY_UP, abs=0.005)
    assert found.first_up == 29 - 1


@pytest.mark.parametrize("shift, printed", [(0, 168), (0.5, 26.6), (1, 8.38), (2, 3.34)])
def test_run_lengths_match_lucas_and_crosier_1982(shift, printed):
    """Technometrics 24:199-205, Table 1: two-sided, k 0.5, h 4, zero start. Simulated: within 4 standard errors."""
    drawn = np.random.default_rng(1982)
    lengths = []
    for _ in range(600):
        found = tabular(drawn.normal(shift, 1, 2400), target=0, slack=0.5, limit=4)
        lengths.append(1 + min(first for first in (found.first_up, found.first_down) if first is not None))
    assert np.mean(lengths) == pytest.approx(printed, abs=4 * np.std(lengths) / np.sqrt(600))


@given(st.lists(st.floats(-50, 50), min_size=1, max_size=30))
def test_cusum_of_the_mirrored_series_is_mirrored(values):
    one = tabular(values, target=1, slack=0.5, limit=4)
    other = tabular([2 - value for value in values], target=1, slack=0.5, limit=4)
    assert other.up == pytest.approx(one.down, abs=1e-9)
    assert other.down == pytest.approx(one.up, abs=1e-9)


def test_scores_match_steiner():
    """Steiner et al. 2000, Biostatistics 1:441-452, p. 446, and Steiner 2014, Statistics in Action, p. 234."""
    assert scores(DIED, PARSONNET) == pytest.approx([-0.024, 0.669, -0.433, 0.260], abs=0.0005)
    assert scores(DIED, PARSONNET, odds_ratio=0.5) == pytest.approx([0.012, -0.681, 0.316, -0.377], abs=0.0005)


def test_scores_match_rigdon_and_fricker():
    """2015, pp. 225-226, intercept -3.67, scores 19 and 0. The fourth of theirs, -0.0954 for a survivor at 19, is
    left out: their own p gives -0.0945, and the 0.0508 they print for odds ratio 1/2 agrees with that p."""
    risk = 1 / (1 + np.exp(3.67 - 0.077 * np.array([19, 0, 0])))
    assert scores([1, 0, 1], risk) == pytest.approx([0.5986, -0.0245, 0.6686], abs=0.00005)
    assert scores([0], risk[:1], odds_ratio=0.5) == pytest.approx([0.05083], abs=0.000005)


def test_the_limit_is_crossed_by_unchanged_series_as_often_as_asked():
    drawn = np.random.default_rng(7)
    risk = np.tile(PARSONNET, 50)
    crossed = 0
    limit = risk_adjusted(np.zeros(200), risk).limit
    for _ in range(1000):
        sums = _path(scores(drawn.random(200) < risk, risk))
        crossed += max(sums) > limit
    assert crossed / 1000 == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 1000))


def _path(steps):
    sums = [0.0]
    for step in steps:
        sums.append(max(0.0, sums[-1] + step))
    return sums


def test_doubled_odds_are_found_and_equal_risks_are_the_plain_case():
    drawn = np.random.default_rng(11)
    risk = np.full(1500, 0.05)
    harmed = drawn.random(1500) < np.where(np.arange(1500) < 500, 0.05, 0.05 * 3 / (1 + 0.05 * 2))
    found = risk_adjusted(harmed, risk)
    assert 500 < found.first < 1000
    assert found.sums == pytest.approx(_path(scores(harmed, risk))[1:])
    assert risk_adjusted(harmed, risk).limit == found.limit


def test_no_cases_is_no_chart_and_a_certain_risk_a_fault():
    assert risk_adjusted([], []).first is None
    with pytest.raises(ValueError, match="between 0 and 1"):
        scores([1], [1.0])
