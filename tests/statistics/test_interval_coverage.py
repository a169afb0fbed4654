"""How often the intervals of shares hold the truth, over n 5 to 500 and shares 0.001 to 0.5."""

import numpy as np
import pytest
from scipy.stats import binom

from pipeline.statistics.coverage import CASES, METHODS, SHARES, as_markdown, coverage
from pipeline.statistics.proportions import wilson

GRID = [(method, cases, share) for method in METHODS for cases in CASES for share in SHARES]


@pytest.mark.parametrize("method, cases, share", GRID)
def test_drawn_coverage_is_the_exact_one_within_monte_carlo_error(method, cases, share):
    found = coverage(method, cases, share)
    assert found.drawn == pytest.approx(found.summed, abs=4 * found.error + 1e-12)


@pytest.mark.parametrize("cases", CASES)
def test_the_exact_interval_never_covers_less_than_95_percent(cases):
    assert all(coverage("exact", cases, share, draws=1).summed >= 0.95 for share in SHARES)


@pytest.mark.parametrize("cases", CASES)
def test_wilson_covers_95_percent_on_average_over_the_shares(cases):
    """Not at each share: counts are whole, so coverage jumps about 95 % (Brown LD, Cai TT, DasGupta A. Stat Sci
    2001;16:101-133). Averaged over shares even from 0.001 to 0.5; few cases and low shares leave it a little off."""
    shares = np.linspace(0.001, 0.5, 500)
    low, high = wilson(np.arange(cases + 1), cases)
    counts = np.arange(cases + 1)[:, None]
    holds = (low[:, None] <= shares) & (shares <= high[:, None])
    average = (binom.pmf(counts, cases, shares) * holds).sum(0).mean()
    assert average == pytest.approx(0.95, abs=0.008)


def test_wilson_never_falls_under_89_percent_on_the_grid():
    assert min(coverage("Wilson", cases, share, draws=1).summed for cases in CASES for share in SHARES) > 0.89


def test_the_table_for_the_docs_has_a_row_for_each_share_and_method():
    lines = as_markdown().splitlines()
    assert len(lines) == 2 + len(SHARES) * len(METHODS)
    assert lines[2].startswith("| 0.001 | Wilson | 99.5 |")
