"""Rules that tell a pattern from chance: points beyond limits, and runs about the median (Anhoej).

The last axis is the months or gaps in order; arrays may carry simulated series in front.
"""

from functools import cache
from typing import NamedTuple

import numpy as np
from scipy.stats import binom

FEWEST_USEFUL = 10
"""Points off the median below which runs are not judged: the published table begins there."""

RECENT = 3
"""Last months of a chart in which a signal is news."""


class Runs(NamedTuple):
    """Anhoej's counts, one a series. useful: points off the median; longest: longest run on one side; crossings:
    changes of side; most, fewest: what chance allows; run, cross: whether the rule fired; late: whether a run
    that fired reaches into the last places."""

    useful: np.ndarray
    longest: np.ndarray
    most: np.ndarray
    crossings: np.ndarray
    fewest: np.ndarray
    run: np.ndarray
    cross: np.ndarray
    late: np.ndarray


def sides(values, low, high) -> np.ndarray:
    """1 above the upper limit, -1 below the lower, else 0; a point on a limit is inside, NaN is 0."""
    values = np.asarray(values, float)
    with np.errstate(invalid="ignore"):
        return (values > high + 1e-12).astype(int) - (values < low - 1e-12)


def about(values, middle) -> np.ndarray:
    """1 above the middle, -1 below, 0 on it or unknown; middle: one a series."""
    apart = np.asarray(values, float) - np.asarray(middle, float)[..., None]
    return np.where(np.isnan(apart) | (np.abs(apart) < 1e-12), 0, np.sign(apart)).astype(int)


def runs(signs, recent=RECENT) -> Runs:
    """Longest run and crossings of signs (1, -1; 0 is dropped), held against what chance allows.

    recent : last places in which a run that fired is `late`: how many, or True at each of them

    Notes
    -----
    n useful points. A signal is a longest run over round(log2 n) + 3, or fewer crossings than the 5 % quantile
    of Binomial(n - 1, 1/2). Not judged under 10 useful points.

    Examples
    --------
    >>> found = runs([1, 1, 0, 1, -1, 1, 1, 1, 1, 1, 1, 1, 1])
    >>> int(found.useful), int(found.longest), int(found.most), int(found.crossings), bool(found.run)
    (12, 8, 7, 2, True)

    Source: Anhoej J, Olesen AV. Run charts revisited: a simulation study of run chart rules for detection of
    non-random variation in health care processes. PLoS ONE 2014;9:e113825.
    """
    signs = np.asarray(signs)
    shape, places = signs.shape[:-1], signs.shape[-1]
    late = recent if isinstance(recent, np.ndarray) else np.arange(places) >= places - recent
    last, current, longest, crossings, open_run = (np.zeros(shape, int) for _ in range(5))
    for month in range(places):
        sign = signs[..., month]
        seen, same = sign != 0, sign == last
        crossings = crossings + (seen & ~same & (last != 0))
        current = np.where(seen, np.where(same, current + 1, 1), current)
        longest = np.maximum(longest, current)
        last = np.where(seen, sign, last)
        open_run = np.where(seen & late[..., month], np.maximum(open_run, current), open_run)
    useful = (signs != 0).sum(-1)
    most, fewest = run_limit(useful), crossing_limit(useful)
    enough = useful >= FEWEST_USEFUL
    return Runs(
        useful, longest, most, crossings, fewest,
        enough & (longest > most), enough & (crossings < fewest), enough & (open_run > most),
    )  # fmt: skip


def run_limit(useful) -> np.ndarray:
    """Longest run that n useful points may show: round(log2 n) + 3."""
    return np.rint(np.log2(np.maximum(useful, 1))).astype(int) + 3


def crossing_limit(useful) -> np.ndarray:
    """Fewest crossings that n useful points may show: 5 % quantile of Binomial(n - 1, 1/2)."""
    return _crossing_limits(int(np.max(useful, initial=0)))[useful]


@cache
def _crossing_limits(most: int) -> np.ndarray:
    return np.maximum(binom.ppf(0.05, np.maximum(np.arange(most + 1) - 1, 0), 0.5), 0).astype(int)


def all_runs(signs) -> list[tuple[int, int, int]]:
    """The runs of one series in order: first and last position, and points in it; 0 is stepped over.

    >>> all_runs([1, 0, 1, -1])
    [(0, 2, 2), (3, 3, 1)]
    """
    found: list[tuple[int, int, int]] = []
    last = 0
    for place, sign in enumerate(signs):
        if sign and sign == last:
            start, _, length = found[-1]
            found[-1] = (start, place, length + 1)
        elif sign:
            found.append((place, place, 1))
        last = sign or last
    return found


def run_tail(useful: int, length: int) -> float:
    """Probability that n fair coin tosses hold a run of so many or more of either face.

    Counted step by step over the length of the run that is open; exact.

    Of the eight ways three tosses can fall, six hold two alike in a row:

    >>> run_tail(3, 2)
    0.75
    """
    if length <= 1:
        return 1.0
    if length > useful:
        return 0.0
    open_run = np.zeros(length - 1)
    open_run[0] = 1.0
    for _ in range(useful - 1):
        open_run = np.concatenate([[open_run.sum() / 2], open_run[:-1] / 2])
    return float(max(0.0, 1 - open_run.sum()))


def crossing_tail(useful: int, crossings: int) -> float:
    """Probability of so few crossings or fewer in n fair coin tosses."""
    return float(binom.cdf(crossings, useful - 1, 0.5)) if useful > 1 else 1.0
