"""How sure we can be of a count, and of a count against the number expected."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammainccinv, gammaincinv

from pipeline.statistics.proportions import Interval


class Ratio(NamedTuple):
    """Observed over expected, and its limits; arrays where the counts were arrays."""

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray


def exact_limits(count: ArrayLike, confidence: float = 0.95) -> Interval:
    """Exact (Garwood) limits of the mean behind a Poisson count.

    Parameters
    ----------
    count : events [count], one number or an array, none negative
    confidence : coverage asked for [fraction]; never less is given

    Returns
    -------
    Limits [events]; low is exactly 0 at 0 events.

    Notes
    -----
    Quantiles of gamma(count) and gamma(count + 1).

    Examples
    --------
    >>> low, high = exact_limits(10)
    >>> print(f"{low:.3f} to {high:.3f}")
    4.795 to 18.390

    Source: Garwood F. Fiducial limits for the Poisson distribution. Biometrika 1936;28:437-442.
    """
    count = np.asarray(count, float)
    if not (count >= 0).all():
        raise ValueError("a count is missing or negative")
    tail = (1 - confidence) / 2
    low, high = gammaincinv(count, tail), gammainccinv(count + 1, tail)
    return Interval(np.where(count == 0, 0.0, low)[()], high[()])


def observed_over_expected(observed: ArrayLike, expected: ArrayLike, confidence: float = 0.95) -> Ratio:
    """Observed events over expected ones, with exact Poisson limits on the observed.

    The expected number is taken as known; where it rests on few cases the interval is too narrow. NaN
    throughout where nothing was expected.

    Examples
    --------
    4 observed, 3.3 expected ([1], whose documentation prints 1.212):

    >>> print("{:.3f}: {:.3f} to {:.3f}".format(*observed_over_expected(4, 3.3)))
    1.212: 0.330 to 3.104

    Source: [1] Sullivan KM. OpenEpi, standardised mortality ratio, 2006. Ours are the exact limits, not Byar's
    approximation, which many printed tables use.
    """
    low, high = exact_limits(observed, confidence)
    expected = np.asarray(expected, float)
    expected = np.where(expected > 0, expected, np.nan)
    return Ratio(*(np.asarray(part / expected)[()] for part in (np.asarray(observed, float), low, high)))
