"""The forecasting methods, simplest first, and from how many months on each may be used.

A method gets the demand of the months up to an origin, None where a month is missing (the clinic was
closed, or the item was out of stock), and gives the demand of the next three, None where it has nothing to say.
"""

import warnings
from collections.abc import Callable, Sequence
from typing import NamedTuple

from pipeline.forecasting import intermittent, smooth

HORIZONS = 3
YEAR = 12
# On a busy machine the library's own default spends its time in thread switches. This one finds the same optimum
# where values are about 1, so they are divided by their mean before a fit, whatever unit they come in.
OPTIMISER = "SLSQP"

Demand = Sequence[float | None]


class Method(NamedTuple):
    """name: as stored; words: as printed; shortest: months it needs before it may be used; forecast:
    the demand of the next HORIZONS months from those before."""

    name: str
    words: str
    shortest: int
    forecast: Callable[[Demand], list[float | None]]


def known(values: Demand) -> list[float]:
    """The months that have a value."""
    return [float(value) for value in values if value is not None]


def seasonal_naive(values: Demand) -> list[float | None]:
    """The same month a year before; where that is missing, the latest year that has it."""
    ahead = []
    for step in range(HORIZONS):
        same_month = range(len(values) + step - YEAR, -1, -YEAR)
        ahead.append(next((values[month] for month in same_month if values[month] is not None), None))
    return ahead


def smoothing(values: Demand, alpha: float | None = None, start: float | None = None) -> list[float | None]:
    """Simple exponential smoothing; missing months are passed over.

    Parameters
    ----------
    alpha : weight of the newest month [fraction]; None: the one with the least squared error
    start : level before the first month [unit of values]; None: mean of the first year

    Source: Hyndman RJ, Athanasopoulos G. Forecasting: principles and practice, section 'Simple exponential smoothing'.
    """
    given = known(values)
    if len(given) < 2 or max(given) == min(given):
        return [given[-1] if given else None] * HORIZONS
    unit = sum(given) / len(given)
    level = (sum(given[:YEAR]) / len(given[:YEAR]) if start is None else start) / unit
    scaled = [value / unit for value in given]
    weight = smooth.best_weight(scaled, level) if alpha is None else alpha
    return [max(0.0, smooth.run(scaled, weight, level).level * unit)] * HORIZONS


def seasonal_smoothing(values: Demand) -> list[float | None]:
    """Holt-Winters with a damped trend and a factor a calendar month; with months of no demand at all the
    season is added instead of multiplied. A missing month takes the value of the same month a year before,
    else a year after; with neither there is no forecast.

    Source: statsmodels ExponentialSmoothing; Hyndman RJ, Athanasopoulos G, section 'Holt-Winters method'.
    """
    from statsmodels.tsa.holtwinters import ExponentialSmoothing

    filled = list(values)
    for month, value in enumerate(values):
        if value is None:
            near = (filled[month - YEAR] if month >= YEAR else None, *values[month + YEAR : month + YEAR + 1])
            filled[month] = next((other for other in near if other is not None), None)
    if None in filled:
        return [None] * HORIZONS
    unit = sum(filled) / len(filled) or 1.0
    model = ExponentialSmoothing(
        [value / unit for value in filled],
        trend="add",
        damped_trend=True,
        seasonal="mul" if min(filled) > 0 else "add",
        seasonal_periods=YEAR,
        initialization_method="heuristic",
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        ahead = model.fit(use_brute=False, method=OPTIMISER).forecast(HORIZONS)
    return [max(0.0, float(value) * unit) for value in ahead]


def _flat(rule: Callable[[Sequence[float]], float]) -> Callable[[Demand], list[float | None]]:
    return lambda values: [rule(known(values))] * HORIZONS


# In order of simplicity: at a tie the earlier one is used.
SEASONAL_NAIVE = Method("seasonal_naive", "the same month last year", YEAR, seasonal_naive)
METHODS = (
    SEASONAL_NAIVE,
    Method("smoothing", "exponential smoothing", 3, smoothing),
    Method("croston", "Croston's method", 3, _flat(intermittent.croston)),
    Method("sba", "Croston's method, bias corrected (SBA)", 3, _flat(intermittent.sba)),
    Method("tsb", "size times probability (TSB)", 3, _flat(intermittent.tsb)),
    Method("seasonal_smoothing", "exponential smoothing with a season", 3 * YEAR, seasonal_smoothing),
)
INTERMITTENT = {"croston", "sba", "tsb"}
FITTED = {"seasonal_smoothing"}
"""What an optimiser of a library fits, at 10 ms a forecast."""
