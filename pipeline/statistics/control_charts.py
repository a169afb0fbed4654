"""Limits of control charts by month, and which chart fits which measure.

Arrays may carry simulated series in front: the last axis is always the months.
"""

from typing import NamedTuple

import numpy as np

D2, D4 = 1.128, 3.267
"""Mean of a range of two normal values in standard deviations, and the upper limit of such ranges in means, as in
Montgomery DC, Introduction to statistical quality control, 7th ed. 2012, appendix VI. (D2 exactly: 2/√π.)"""

LOW_TAIL, HIGH_TAIL = 0.00135, 0.99865
OVERDISPERSED, FEWEST_EXPECTED = 1.2, 5.0
RARE = 1.0


class Limits(NamedTuple):
    """centre: one a series; low, high, sigma: one a month; all in the unit of the chart."""

    centre: np.ndarray
    low: np.ndarray
    high: np.ndarray
    sigma: np.ndarray


def p_limits(events, cases, base, factor=1.0) -> Limits:
    """p chart: share ± 3 √(share (1 - share)/cases) x factor, cut at 0 and 1.

    events, cases : by month [count]; base : positions of the months that set the share; factor : sigma-z for a
    Laney p' chart, else 1.

    Source: Montgomery 2012, section 7.2; Laney DB. Improved control charts for attributes. Qual Eng
    2002;14:531-537.

    >>> limits = p_limits(np.array([12, 8]), np.array([100, 80]), [0, 1])
    >>> print(f"{limits.centre:.4f}: {limits.low[0]:.4f} to {limits.high[0]:.4f}")
    0.1111: 0.0168 to 0.2054
    """
    events, cases = np.asarray(events, float), np.asarray(cases, float)
    centre = events[..., base].sum(-1) / cases[..., base].sum(-1)
    middle = centre[..., None]
    sigma = np.sqrt(middle * (1 - middle) / cases) * np.asarray(factor)[..., None]
    return Limits(centre, np.maximum(middle - 3 * sigma, 0), np.minimum(middle + 3 * sigma, 1), sigma)


def sigma_z(events, cases, base) -> np.ndarray:
    """How much more the months of the baseline vary than chance: mean moving range of their z, over 1.128 (Laney).

    1 where only chance is at work; NaN where none or all of the cases have it.
    """
    events, cases = np.asarray(events, float), np.asarray(cases, float)
    plain = p_limits(events, cases, base)
    with np.errstate(invalid="ignore", divide="ignore"):
        z = (events / cases - plain.centre[..., None]) / plain.sigma
    return np.abs(np.diff(z[..., base], axis=-1)).mean(-1) / D2


def laney_factor(events, cases, base) -> np.ndarray:
    """sigma-z where it exceeds 1.2 and each month of the baseline expects 5 with and 5 without; else 1."""
    events, cases = np.asarray(events, float), np.asarray(cases, float)
    spread = sigma_z(events, cases, base)
    share = events[..., base].sum(-1) / cases[..., base].sum(-1)
    fewest = np.minimum(share, 1 - share) * cases[..., base].min(-1)
    return np.where((spread > OVERDISPERSED) & (fewest >= FEWEST_EXPECTED - 1e-9), spread, 1.0)


def u_limits(events, exposure, base) -> Limits:
    """u chart: events per unit of exposure ± 3 √(rate/exposure), cut at 0.

    events [count] and exposure (such as anesthesia hours) by month. Source: Montgomery 2012, section 7.3.
    """
    events, exposure = np.asarray(events, float), np.asarray(exposure, float)
    centre = events[..., base].sum(-1) / exposure[..., base].sum(-1)
    sigma = np.sqrt(centre[..., None] / exposure)
    middle = centre[..., None]
    return Limits(centre, np.maximum(middle - 3 * sigma, 0), middle + 3 * sigma, sigma)


def individuals_limits(values, base) -> Limits:
    """Individuals chart: mean ± 3 x mean moving range/1.128, in the unit of the values.

    Source: NIST/SEMATECH e-Handbook of statistical methods, 6.3.2.2.
    """
    values = np.asarray(values, float)
    centre = values[..., base].mean(-1)
    sigma = np.abs(np.diff(values[..., base], axis=-1)).mean(-1) / D2
    reach = np.ones(values.shape[-1]) * sigma[..., None]
    return Limits(centre, centre[..., None] - 3 * reach, centre[..., None] + 3 * reach, reach)


def moving_range_limits(values, base) -> tuple[np.ndarray, float, float]:
    """Moving ranges of values (the first NaN), their mean over the baseline, and its upper limit 3.267 x mean."""
    values = np.asarray(values, float)
    ranges = np.concatenate([[np.nan], np.abs(np.diff(values))])
    mean = float(np.abs(np.diff(values[base])).mean())
    return ranges, mean, D4 * mean


class GapLimits(NamedTuple):
    """Quantiles 0.00135, one half and 0.99865 of a gap, one a series, in cases (g chart) or units of time (t chart)."""

    low: np.ndarray
    middle: np.ndarray
    high: np.ndarray


TAILS = np.array([LOW_TAIL, 0.5, HIGH_TAIL])


def g_limits(share) -> GapLimits:
    """g chart: cases without it between two that have it, exact quantiles of the geometric distribution.

    Parameters
    ----------
    share : cases that have it over cases, in the baseline [fraction], over 0 and under 1; one or an array

    Notes
    -----
    Smallest k with 1 - (1-share)^(k+1) at or over the tail. Exact limits rather than mean ± 3 √(m(m+1)), whose
    lower one is always 0 and whose upper one is passed by 1 gap in 55. A short gap is never beyond the lower
    limit where share exceeds 0.00135: clusters show in the run rules and the risk-adjusted CUSUM.

    >>> [float(limit) for limit in g_limits(1 / (1 + 61 / 12))]
    [0.0, 3.0, 36.0]

    Source: Benneyan JC. Number-between g-type statistical quality control charts for monitoring adverse events.
    Health Care Manag Sci 2001;4:305-318 (distribution; limits here are its quantiles).
    """
    least = np.ceil(np.divide.outer(np.log1p(-TAILS), np.log1p(-np.asarray(share, float))) - 1e-12) - 1
    return GapLimits(*np.maximum(least, 0))


def t_limits(mean) -> GapLimits:
    """t chart: time between two events, exact quantiles of the exponential distribution.

    mean : exposure over events in the baseline [h, or the unit of the gaps], one or an array. Others transform the
    times to near normality first (power 1/3.6), whose upper limit is higher.

    >>> [round(float(limit), 1) for limit in t_limits(710.05)]
    [1.0, 492.2, 4691.8]

    Source: Montgomery 2012, section 7.3.5 (times between events); quantile -mean x ln(1 - tail).
    """
    return GapLimits(*np.multiply.outer(-np.log1p(-TAILS), np.asarray(mean, float)))


def choose(kind: str, events, cases, base) -> tuple[str, str]:
    """The chart for a measure and the reason in words.

    kind : 'share' (cases out of cases), 'rate' (events per exposure) or 'value' (a median, a ratio of sums)
    events, cases : by complete month; base : positions of the baseline

    Returns 'p', "p'", 'u', 'individuals', 'g' or 't', with a sentence that names the rule.
    """
    if kind == "value":
        return "individuals", "Individuals chart: one value a month, without a count to take its spread from."
    events, cases = np.asarray(events, float), np.asarray(cases, float)
    a_month = events[base].mean()
    if kind == "rate":
        if a_month < RARE:
            return "t", f"t chart of the time between events: {a_month:.2f} expected a month, fewer than 1."
        return "u", f"u chart: events for the time at risk, {a_month:.1f} expected a month."
    without = (cases - events)[base].mean()
    if min(a_month, without) < RARE:
        rare, what = (a_month, "with") if a_month <= without else (without, "without")
        return "g", f"g chart of the cases between two {what} it: {rare:.2f} expected a month, fewer than 1."
    spread = float(sigma_z(events, cases, base))
    if laney_factor(events, cases, base) > 1:
        return "p'", f"Laney p' chart: months vary more than chance alone makes them (sigma-z {spread:.2f}, over 1.2)."
    if spread > OVERDISPERSED:
        return "p", (
            f"p chart: months vary more than chance alone makes them (sigma-z {spread:.2f}), but some expect fewer"
            " than 5 with or without it, too few for the p' correction."
        )
    return "p", f"p chart: a share of cases, {a_month:.1f} expected a month (sigma-z {spread:.2f}, not over 1.2)."
