"""How sure we can be of a share counted from a modest number of cases."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint


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
    statsmodels' proportion_confint. With p = events/cases, n = cases and z the normal quantile::

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
    return _limits(events, cases, confidence, "wilson")


def exact(events: ArrayLike, cases: ArrayLike, confidence: float = 0.95) -> Interval:
    """Clopper-Pearson interval: never covers less than asked for, so it is wider than Wilson's.

    Parameters, limits at the ends and errors are those of `wilson`.

    Examples
    --------
    0 of 20 is printed as 0 to 0.1684 in Newcombe 1998 (see `wilson`), Table I, method 5:

    >>> print(f"{exact(0, 20).high:.4f}")
    0.1684

    Source: Clopper CJ, Pearson ES. Biometrika 1934;26:404-413; statsmodels' proportion_confint, method "beta".
    """
    return _limits(events, cases, confidence, "beta")


def newcombe(events: int, cases: int, other_events: int, other_cases: int, confidence: float = 0.95) -> Difference:
    """Difference of two independent shares with Newcombe's hybrid score interval (method 10).

    Returns first minus second; NaN throughout where either group has no case.

    Notes
    -----
    statsmodels' confint_proportions_2indep. With the Wilson limits l, u of each share::

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
    low, high = confint_proportions_2indep(
        events, cases, other_events, other_cases, compare="diff", method="newcomb", alpha=1 - confidence
    )
    return Difference(events / cases - other_events / other_cases, float(low), float(high))


def _counts(events: ArrayLike, cases: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    events, cases = np.broadcast_arrays(np.asarray(events, float), np.asarray(cases, float))
    wrong = ~((events >= 0) & (events <= cases))
    if wrong.any():
        raise ValueError(f"events must lie between 0 and cases; got {events[wrong][0]:g} of {cases[wrong][0]:g}")
    return events, cases


def _limits(events: ArrayLike, cases: ArrayLike, confidence: float, method: str) -> Interval:
    events, cases = _counts(events, cases)
    known = cases > 0
    low, high = proportion_confint(
        np.where(known, events, 0), np.where(known, cases, 1), alpha=1 - confidence, method=method
    )
    low = np.where(events == 0, 0.0, np.maximum(low, 0.0))
    high = np.where(events == cases, 1.0, np.minimum(high, 1.0))
    return Interval(np.where(known, low, np.nan)[()], np.where(known, high, np.nan)[()])
