"""Forecasts for items that many months do not need at all: Croston, SBA and TSB.

Ours because no maintained library with them installs beside pandas 3. All three are flat: the same
demand for every month ahead. Months without a value are left out before they come here.
"""

from collections.abc import Sequence


def _smoothed(values: Sequence[float], weight: float) -> float:
    """Exponential smoothing that starts at the first value; the level after the last."""
    level = values[0]
    for value in values[1:]:
        level += weight * (value - level)
    return level


def croston(values: Sequence[float], alpha: float = 0.1) -> float:
    """Demand a period: smoothed size of a demand over smoothed interval between demands.

    Parameters
    ----------
    values : demand a period [any unit], zero where there was none, nothing missing
    alpha : weight of the newest demand, for size and interval alike [fraction]

    Returns
    -------
    Forecast of every coming period [unit of values]; 0.0 where nothing was ever needed.

    Notes
    -----
    Size starts at the first demand, interval at the number of periods up to and including it.

    Examples
    --------
    >>> croston([0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3])
    1.423

    Sources
    -------
    Croston JD. Forecasting and stock control for intermittent demands. Oper Res Q 1972;23:289-303.
    """
    at = [period for period, value in enumerate(values, start=1) if value > 0]
    if not at:
        return 0.0
    sizes = [values[period - 1] for period in at]
    intervals = [later - earlier for earlier, later in zip([0, *at], at, strict=False)]
    return _smoothed(sizes, alpha) / _smoothed(intervals, alpha)


def sba(values: Sequence[float], alpha: float = 0.1) -> float:
    """Croston's forecast times 1 - alpha/2, which takes out most of its upward bias. Arguments as there.

    Source: Syntetos AA, Boylan JE. The accuracy of intermittent demand estimates.
    Int J Forecast 2005;21:303-314.
    """
    return (1 - alpha / 2) * croston(values, alpha)


def tsb(values: Sequence[float], alpha: float = 0.1, beta: float = 0.1) -> float:
    """Demand a period: smoothed size times smoothed probability that a period has any demand.

    The probability moves every period, so a forecast fades when an item is no longer used.

    Parameters
    ----------
    values : demand a period [any unit], zero where there was none, nothing missing
    alpha, beta : weight of the newest demand and of the newest period [fraction]

    Returns
    -------
    Forecast of every coming period [unit of values]; 0.0 where nothing was ever needed.

    Notes
    -----
    Size starts at the first demand, probability at whether the first period had one. Other starts
    are in use and move the result by several percent.

    Source: Teunter RH, Syntetos AA, Babai MZ. Intermittent demand: linking forecasting to inventory
    obsolescence. Eur J Oper Res 2011;214:606-615.
    """
    sizes = [value for value in values if value > 0]
    if not sizes:
        return 0.0
    return _smoothed(sizes, alpha) * _smoothed([float(value > 0) for value in values], beta)
