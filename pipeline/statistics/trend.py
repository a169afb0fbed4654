"""Does a share rise or fall over ordered classes, such as ASA 1 to 5."""

from math import erfc, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike


class Trend(NamedTuple):
    """z: standard normal statistic, positive where the share rises with the score; p: two-sided."""

    z: float
    p: float


def cochran_armitage(events: ArrayLike, totals: ArrayLike, scores: ArrayLike | None = None) -> Trend | None:
    """Cochran-Armitage test for trend, no continuity correction, two-sided normal.

    Parameters
    ----------
    events : cases that have it, by class [count]
    totals : assessable cases, by class [count]
    scores : one number a class; 1, 2, 3 ... where not given

    Returns
    -------
    The trend, or None where nothing can be tested: fewer than two classes hold a case, or none or all of the
    cases have it.

    Notes
    -----
    With P the share over all classes and N the number of cases::

        z = Σ s(e - nP) / √(P(1-P) (Σ n s² - (Σ n s)²/N))

    The variance divides by N, as R's prop.trend.test does. statsmodels' Table.test_ordinal_association divides
    by N - 1 (Mantel's M²), which is another test; hence ours. The scores are part of the method.

    Examples
    --------
    Alcohol and malformation, [2] section 2.5; R 4.2.2 prop.trend.test gives chi-square 6.570134, p 0.010370:

    >>> found = cochran_armitage([48, 38, 5, 1, 1], [17114, 14502, 793, 127, 38], [0, 0.5, 1.5, 4, 7])
    >>> print(f"{found.z**2:.6f} {found.p:.6f}")
    6.570134 0.010370

    Sources
    -------
    [1] Armitage P. Tests for linear trends in proportions and frequencies. Biometrics 1955;11:375-386.
    [2] Agresti A. An introduction to categorical data analysis, 2nd ed. 2007.
    """
    events, totals = np.asarray(events, float), np.asarray(totals, float)
    scores = np.arange(1.0, len(totals) + 1) if scores is None else np.asarray(scores, float)
    if not len(events) == len(totals) == len(scores):
        raise ValueError(f"{len(events)} classes of events, {len(totals)} of totals, {len(scores)} scores")
    if (events < 0).any() or (events > totals).any():
        raise ValueError("events must lie between 0 and the total of their class")
    cases, having = totals.sum(), events.sum()
    if (totals > 0).sum() < 2 or having in (0, cases):
        return None
    share = having / cases
    spread = totals @ scores**2 - (totals @ scores) ** 2 / cases
    if spread <= 0:
        return None
    z = float(scores @ (events - totals * share) / sqrt(share * (1 - share) * spread))
    return Trend(z, erfc(abs(z) / sqrt(2)))
