"""A running average that forgets: slow drifts that no single month shows."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike


class Ewma(NamedTuple):
    """One entry a value, in its unit. average: the running average after it; low, high: its limits."""

    average: np.ndarray
    low: np.ndarray
    high: np.ndarray


def ewma(
    values: ArrayLike, target: float, sigma: float, weight: float = 0.2, width: float = 3.0, steady: bool = False
) -> Ewma:
    """Exponentially weighted moving average and its limits.

    Parameters
    ----------
    values : in time order, none missing
    target : where the average starts, and the centre
    sigma : standard deviation of one value, in its unit
    weight : share of the newest value, over 0 to 1
    width : limits in standard deviations of the average
    steady : the limits of a long series throughout, as [1] draws them; else each point's own, narrower at first

    Notes
    -----
    E_t = w x_t + (1-w) E_{t-1};  limits target ± width·sigma √(w/(2-w) · (1 - (1-w)^{2t})), the last factor 1
    where steady.

    Examples
    --------
    >>> found = ewma([52.0, 47.0, 53.0], target=50, sigma=2.0539, weight=0.3, steady=True)
    >>> [round(float(number), 2) for number in [*found.average, found.high[0]]]
    [50.6, 49.52, 50.56, 52.59]

    Sources: [1] NIST/SEMATECH e-Handbook of statistical methods, 6.3.2.4. Roberts SW. Technometrics
    1959;1:239-250.
    """
    values = np.asarray(values, float)
    average, last = np.empty_like(values), target
    for i, value in enumerate(values):
        last = average[i] = weight * value + (1 - weight) * last
    settled = 1.0 if steady else 1 - (1 - weight) ** (2 * np.arange(1, len(values) + 1))
    reach = width * sigma * np.sqrt(weight / (2 - weight) * settled) * np.ones_like(values)
    return Ewma(average, target - reach, target + reach)
