"""How sure we can be of a share counted from a modest number of cases."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainccinv, betaincinv, ndtri


class Interval(NamedTuple):
    """Lower and upper limit; arrays where the counts were arrays."""

    low: np.ndarray
    high: np.ndarray


class Difference(NamedTuple):
    """First share minus second, and its limits [fraction of cases, -1 to 1]."""

    value: float
    low: float
    high: float


def wilson(events: ArrayLike, cases: ArrayLike, confidence: float = 0.95) -> Interval:
    """Wilson score interval of events out of cases, without continuity correction.

    Chosen over the plus-or-minus interval because a clinic has small months and rare events, where that one
    reaches below zero or shrinks to nothing at 0 events.

    Parameters
    ----------
    events : cases that have it [count], one number or an array, each 0 to its cases
    cases : cases in which it was looked for [count], of the same shape
    confidence : coverage asked for [fraction]

    Returns
    -------
    Limits [fraction of cases]; low is exactly 0 at 0 events, high exactly 1 where every case has it, both NaN
    at 0 cases.

    Raises
    ------
    ValueError where events are negative or more than their cases.

    Notes
    -----
    With p = events/cases, n = cases and z the normal quantile::

        (p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n)

    Each animal should count once: repeat anesthetics of one animal are not independent and make it too narrow.

    Examples
    --------
    81 of 263 is printed as 0.2553 to 0.3662 in [1], Table I:

    >>> low, high = wilson(81, 263)
    >>> print(f"{low:.4f} to {high:.4f}")
    0.2553 to 0.3662

    Sources
    -------
    [1] Newcombe RG. Two-sided confidence intervals for the single proportion: comparison of seven methods.
        Stat Med 1998;17:857-872. Method 3.
    [2] Wilson EB. Probable inference, the law of succession, and statistical inference. J Am Stat Assoc
        1927;22:209-212.
    """
    events, cases = _counts(events, cases)
    n, z = np.where(cases > 0, cases, np.nan), -ndtri((1 - confidence) / 2)
    p, shrink = events / n, 1 + z**2 / n
    centre = (p + z**2 / (2 * n)) / shrink
    reach = z * np.sqrt(p * (1 - p) / n + z**2 / (4 * n**2)) / shrink
    return _limits(events, cases, centre - reach, centre + reach)


def exact(events: ArrayLike, cases: ArrayLike, confidence: float = 0.95) -> Interval:
    """Clopper-Pearson interval: never covers less than asked for, so it is wider than Wilson's.

    Parameters, limits at the ends and errors are those of `wilson`.

    Examples
    --------
    0 of 20 is printed as 0 to 0.1684 in Newcombe 1998 (see `wilson`), Table I, method 5:

    >>> print(f"{exact(0, 20).high:.4f}")
    0.1684

    Source: Clopper CJ, Pearson ES. Biometrika 1934;26:404-413: quantiles of beta(x, n - x + 1) and beta(x + 1, n - x).
    """
    events, cases = _counts(events, cases)
    tail, rest = (1 - confidence) / 2, cases - events
    return _limits(events, cases, betaincinv(events, rest + 1, tail), betainccinv(events + 1, rest, tail))


def newcombe(events: int, cases: int, other_events: int, other_cases: int, confidence: float = 0.95) -> Difference:
    """Difference of two independent shares with Newcombe's hybrid score interval (method 10).

    Returns first minus second; NaN throughout where either group has no case.

    Notes
    -----
    With the Wilson limits l, u of each share::

        low  = p1 - p2 - √((p1 - l1)² + (u2 - p2)²)
        high = p1 - p2 + √((u1 - p1)² + (p2 - l2)²)

    Examples
    --------
    56/70 against 48/80 is printed as 0.0524 to 0.3339 in [1], Table II (a):

    >>> found = newcombe(56, 70, 48, 80)
    >>> print(f"{found.value:.2f}: {found.low:.4f} to {found.high:.4f}")
    0.20: 0.0524 to 0.3339

    Source: [1] Newcombe RG. Interval estimation for the difference between independent proportions: comparison
    of eleven methods. Stat Med 1998;17:873-890.
    """
    _counts([events, other_events], [cases, other_cases])
    if not cases or not other_cases:
        return Difference(np.nan, np.nan, np.nan)
    (p1, l1, u1), (p2, l2, u2) = (
        (having / known, *wilson(having, known, confidence))
        for having, known in ((events, cases), (other_events, other_cases))
    )
    low, high = np.hypot(p1 - l1, u2 - p2), np.hypot(u1 - p1, p2 - l2)
    return Difference(p1 - p2, float(p1 - p2 - low), float(p1 - p2 + high))


def _counts(events: ArrayLike, cases: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    events, cases = np.broadcast_arrays(np.asarray(events, float), np.asarray(cases, float))
    wrong = ~((events >= 0) & (events <= cases))
    if wrong.any():
        raise ValueError(f"events must lie between 0 and cases; got {events[wrong][0]:g} of {cases[wrong][0]:g}")
    return events, cases


def _limits(events: np.ndarray, cases: np.ndarray, low: np.ndarray, high: np.ndarray) -> Interval:
    """Limits without what rounding put beyond the ends, NaN at 0 cases."""
    low = np.where(events == 0, 0.0, np.maximum(low, 0.0))
    high = np.where(events == cases, 1.0, np.minimum(high, 1.0))
    known = cases > 0
    return Interval(np.where(known, low, np.nan)[()], np.where(known, high, np.nan)[()])
