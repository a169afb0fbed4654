"""Groups against their size: how far from the whole a group of n cases may lie by chance."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri
from scipy.stats import binom

WARNING, ALARM = 0.95, 0.998


class Funnel(NamedTuple):
    """One entry a group. target: share over all groups; low_95 to high_998: exact binomial limits; phi: mean
    squared z after winsorising (1: no more spread than chance); tau2: variance between groups; wide_*: the
    over-dispersed limits; z: standardised distance from the target, without tau2. All but phi in fractions."""

    target: float
    low_95: np.ndarray
    high_95: np.ndarray
    low_998: np.ndarray
    high_998: np.ndarray
    phi: float
    tau2: float
    wide_low_95: np.ndarray
    wide_high_95: np.ndarray
    wide_low_998: np.ndarray
    wide_high_998: np.ndarray
    z: np.ndarray


def binomial_limits(cases: ArrayLike, target: float, coverage: float) -> tuple[np.ndarray, np.ndarray]:
    """Exact binomial funnel limits for groups of so many cases.

    Parameters
    ----------
    cases : size of each group [count], at least 1
    target : share the groups are held against [fraction], 0 to 1
    coverage : part of unchanged groups inside [fraction], half of the rest on each side

    Notes
    -----
    Spiegelhalter's interpolated quantile at tail p: with r the smallest count whose cumulative probability
    F(r) is p or more and f its own probability, (r - (F(r) - p)/f(r))/n. Other tools draw the exact interval
    around the expected number instead, which is wider.

    Examples
    --------
    >>> low, high = binomial_limits(100, 0.1, 0.95)
    >>> print(f"{low:.4f} to {high:.4f}")
    0.0404 to 0.1577

    Source: Spiegelhalter DJ. Funnel plots for comparing institutional performance. Stat Med 2005;24:1185-1202,
    appendix A.1.
    """
    cases = np.asarray(cases, float)
    return tuple(_quantile((1 + side * coverage) / 2, cases, target) for side in (-1, 1))


def funnel(events: ArrayLike, cases: ArrayLike, target: float | None = None, winsorise: float = 0.1) -> Funnel | None:
    """Funnel over groups, exact limits and the over-dispersed ones beside them.

    Parameters
    ----------
    events, cases : cases that have it, assessable cases, one entry a group [count]
    target : share to hold them against; the share over all groups where not given
    winsorise : part of the groups at each end whose z is pulled in to the next before phi is taken

    Returns
    -------
    The funnel, or None where there are no cases, or where none or all of them have it. A group without cases
    has NaN limits.

    Notes
    -----
    z = (p - t)/s with s² = t(1-t)/n; φ = mean z²; over I groups with w = 1/s²::

        τ² = max(0, (Iφ - (I - 1)) / (Σw - Σw²/Σw)),   wide limits t ± Z √(s² + τ²)

    Source: Spiegelhalter DJ. Handling over-dispersion of performance indicators. Qual Saf Health Care
    2005;14:347-351; with φ not winsorised τ² is DerSimonian and Laird's.
    """
    events, cases = np.asarray(events, float), np.asarray(cases, float)
    if not cases.sum() or events.sum() in (0, cases.sum()):
        return None
    target = events.sum() / cases.sum() if target is None else target
    sized = np.where(cases > 0, cases, np.nan)
    error = np.sqrt(target * (1 - target) / sized)
    z = (events / sized - target) / error
    phi, tau2 = overdispersion(z[cases > 0], error[cases > 0], winsorise)
    wide = np.sqrt(error**2 + tau2)
    reach = [(1 + coverage) / 2 for coverage in (WARNING, ALARM)]
    (low_95, high_95), (low_998, high_998) = (binomial_limits(cases, target, c) for c in (WARNING, ALARM))
    wide_95, wide_998 = (ndtri(tail) * wide for tail in reach)
    return Funnel(
        target, low_95, high_95, low_998, high_998, phi, tau2,
        np.maximum(target - wide_95, 0), np.minimum(target + wide_95, 1),
        np.maximum(target - wide_998, 0), np.minimum(target + wide_998, 1), z,
    )  # fmt: skip


def overdispersion(z: ArrayLike, error: ArrayLike, winsorise: float = 0.1) -> tuple[float, float]:
    """φ and τ² of `funnel` from standardised distances and their standard errors; τ² 0 for a single group."""
    z, weight = np.asarray(z, float), 1 / np.asarray(error, float) ** 2
    if len(z) < 2:
        return 1.0, 0.0
    low, high = np.quantile(z, [winsorise, 1 - winsorise])
    phi = float(np.mean(np.clip(z, low, high) ** 2))
    spread = weight.sum() - (weight**2).sum() / weight.sum()
    return phi, max(0.0, float((len(z) * phi - (len(z) - 1)) / spread))


def _quantile(tail: float, cases: np.ndarray, target: float) -> np.ndarray:
    sized = np.where(cases > 0, cases, np.nan)
    count = np.maximum(binom.ppf(tail, sized, target), 0)
    beyond = (binom.cdf(count, sized, target) - tail) / binom.pmf(count, sized, target)
    return np.clip((count - beyond) / sized, 0, 1)
