"""Curves and tests of many groups at once give what the function for one group gives, which is held to R and handbooks
in tests/statistics; chance groups of every size, ties and censorings among them."""

import numpy as np
import pytest

from pipeline.measures.many import curves, log_rank, quartiles, trends
from pipeline.statistics.survival import kaplan_meier
from pipeline.statistics.survival import log_rank as log_rank_of_cases
from pipeline.statistics.trend import cochran_armitage

SLACK = 1e-12


def watched(rng, cases: int) -> tuple[np.ndarray, np.ndarray]:
    """Minutes and whether seen; whole minutes, so that there are ties."""
    return rng.integers(0, 40, cases).astype(float), (rng.random(cases) < rng.random()).astype(int)


def counted(minutes, seen):
    """times, cases and seen at each."""
    times, at = np.unique(minutes, return_inverse=True)
    return times, np.bincount(at), np.bincount(at, weights=seen)


def missing(value):
    return np.nan if value is None else value


def test_curves_of_chance_groups_are_those_of_one_group_at_a_time():
    rng = np.random.default_rng(20261125)
    groups = [watched(rng, cases) for cases in [1, 1, 2, 3, *rng.integers(1, 400, 700)]]
    groups += [(np.array([5.0, 5.0]), np.array([1, 1])), (np.array([7.0]), np.array([0]))]
    counts = [counted(*group) for group in groups]
    starts = np.cumsum([0, *(len(times) for times, _, _ in counts)])
    found = curves(starts, *(np.concatenate(column) for column in zip(*counts, strict=True)))
    for place, (minutes, seen) in enumerate(groups):
        curve = kaplan_meier(minutes, seen)
        expected = [curve.entered, curve.seen, *(missing(curve.quantile(share)) for share in (0.25, 0.5, 0.75)),
                    *(missing(limit) for limit in curve.median_interval())]  # fmt: skip
        assert [column[place] for column in found] == pytest.approx(expected, rel=0, abs=0, nan_ok=True)


def test_no_group_has_no_curve():
    nothing = np.empty(0)
    assert [len(column) for column in curves(np.zeros(1, int), nothing, nothing, nothing)] == [0] * 7


def test_log_rank_over_counted_cases_is_that_over_cases():
    rng = np.random.default_rng(7)
    for _ in range(150):
        groups = [watched(rng, cases) for cases in rng.integers(1, 60, rng.integers(1, 8))]
        counts = [counted(*group) for group in groups]
        rows = [np.concatenate(column) for column in zip(*counts, strict=True)]
        numbers = np.repeat(np.arange(len(groups)), [len(times) for times, _, _ in counts])
        expected = log_rank_of_cases(groups) if len(groups) > 1 else None
        chi2, p = log_rank(numbers, *rows)
        if expected is None:
            assert np.isnan(chi2) and np.isnan(p)
        else:
            assert (chi2, p) == pytest.approx((expected.chi2, expected.p), rel=1e-9, abs=SLACK)


def test_trends_by_row_are_those_of_one_table_at_a_time():
    rng = np.random.default_rng(3)
    totals = rng.integers(0, 30, (400, 5)) * (rng.random((400, 5)) < 0.6)
    events = rng.binomial(totals, rng.random((400, 1)))
    z, p = trends(events.astype(float), totals.astype(float))
    for row in range(len(totals)):
        expected = cochran_armitage(events[row], totals[row]) or (np.nan, np.nan)
        assert (z[row], p[row]) == pytest.approx(expected, rel=1e-11, abs=SLACK, nan_ok=True)


def test_quartiles_of_counted_amounts_are_numpys():
    rng = np.random.default_rng(5)
    groups = [
        np.round(rng.exponential(3, size), rng.integers(0, 3)) for size in [1, 2, 3, 4, *rng.integers(1, 90, 300)]
    ]
    counts = [np.unique(amounts, return_counts=True) for amounts in groups]
    starts = np.cumsum([0, *(len(values) for values, _ in counts)])
    found = quartiles(starts, *(np.concatenate(column) for column in zip(*counts, strict=True)))
    expected = np.array([np.quantile(amounts, (0.25, 0.5, 0.75)) for amounts in groups]).T
    np.testing.assert_allclose(found, expected, rtol=SLACK)
    assert quartiles(np.zeros(1, int), np.empty(0), np.empty(0, int)).shape == (3, 0)
