"""The weight of simple exponential smoothing with the least squared error, found itself and not searched for.

Ours because a forecast is tried from hundreds of past months for every order sheet, and a general optimiser takes
10 ms for each and stops somewhere near. The error of one weight is a loop of a few additions a month, and so is its
slope; every least one lies where the slope changes its sign, or at 0 or 1.
"""

from collections.abc import Sequence
from typing import NamedTuple

STEPS = 40


class Pass(NamedTuple):
    """level: after the last value; error: sum of squared one-step errors; slope: half its derivative by the weight."""

    level: float
    error: float
    slope: float


def run(values: Sequence[float], weight: float, start: float) -> Pass:
    """One pass of exponential smoothing.

    Parameters
    ----------
    values : one a period [any unit], nothing missing
    weight : of the newest value [fraction]
    start : level before the first value [unit of values]

    Examples
    --------
    >>> run([2.0, 4.0], 0.5, 0.0)
    Pass(level=2.5, error=13.0, slope=-6.0)

    Source: the recurrence level += weight (value - level) of the NIST/SEMATECH e-Handbook, 6.4.3.1, and its derivative.
    """
    level, by_weight, error, slope = start, 0.0, 0.0, 0.0
    for value in values:
        missed = value - level
        error += missed * missed
        slope -= missed * by_weight
        by_weight += missed - weight * by_weight
        level += weight * missed
    return Pass(level, error, slope)


def best_weight(values: Sequence[float], start: float) -> float:
    """The weight from 0 to 1 with the least squared error; at a tie the smallest. Arguments as in run.

    Minima nearer to each other than 1/40 are taken for one.
    """
    from scipy.optimize import brentq

    at = [step / STEPS for step in range(STEPS + 1)]
    slopes = [run(values, weight, start).slope for weight in at]
    least = [0.0, 1.0]
    for place, (before, after) in enumerate(zip(slopes, slopes[1:], strict=False)):
        if before < 0 <= after:
            least.append(brentq(lambda weight: run(values, weight, start).slope, at[place], at[place + 1], xtol=1e-13))
    return min(sorted(least), key=lambda weight: run(values, weight, start).error)
