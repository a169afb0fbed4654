"""Pretends to be in the past, again and again: what each method would have said, and how wrong it was.

Rolling origin: at each of the last months that leave enough before them, every method forecasts the
next three from what was known then. A month counts only where every method had a forecast for it.
"""

from collections.abc import Sequence
from typing import NamedTuple

from pipeline.forecasting.methods import HORIZONS, INTERMITTENT, YEAR, Demand, Method

FEWEST_ORIGINS = 12
MOST_ORIGINS = 24


class Miss(NamedTuple):
    """One past forecast against what happened: the months known then, months ahead, forecast minus demand."""

    origin: int
    ahead: int
    error: float


class Scores(NamedTuple):
    """origins: past starts; scale: mean change that an error is divided by, None where it is 0 or unknown;
    seasonal_scale: the change is from the same month a year before, else from the month before;
    misses: by method name, in the order of the methods."""

    origins: int
    scale: float | None
    seasonal_scale: bool
    misses: dict[str, list[Miss]]

    def mean_error(self, method: str) -> float:
        """Mean absolute error [unit of the demand]."""
        return sum(abs(miss.error) for miss in self.misses[method]) / len(self.misses[method])

    def mase(self, method: str) -> float | None:
        """Mean absolute scaled error: 1 is as good as the scale's own naive forecast one step ahead."""
        return None if self.scale is None else self.mean_error(method) / self.scale


def mase_scale(values: Demand) -> tuple[float | None, bool]:
    """Mean |y_t - y_{t-12}|, or mean |y_t - y_{t-1}| under 24 months, and whether it is the first.

    >>> mase_scale([1.0, 3.0, 2.0, None, 5.0])
    (1.5, False)

    Source: Hyndman RJ, Koehler AB. Another look at measures of forecast accuracy.
    Int J Forecast 2006;22:679-688.
    """
    seasonal = len(values) >= 2 * YEAR
    lag = YEAR if seasonal else 1
    changes = [
        abs(later - earlier)
        for earlier, later in zip(values, values[lag:], strict=False)
        if earlier is not None and later is not None
    ]
    scale = sum(changes) / len(changes) if changes else None
    return scale or None, seasonal


def candidates(values: Demand, methods: Sequence[Method]) -> list[Method]:
    """The methods that these months allow: 12 origins after the shortest history a method asks for; the
    ones for intermittent demand only where some month needed nothing."""
    some_zero = any(value == 0 for value in values)
    return [
        method
        for method in methods
        if len(values) - method.shortest >= FEWEST_ORIGINS and (some_zero or method.name not in INTERMITTENT)
    ]


def backtest(values: Demand, methods: Sequence[Method]) -> Scores | None:
    """Every candidate's misses over the same months, or None where there are too few months to judge.

    Where missing months leave fewer than 12 origins that every candidate can forecast from, the candidate that
    can forecast fewest of them is left out, until there are enough.
    """
    methods = candidates(values, methods)
    if not methods:
        return None
    first = max(*(method.shortest for method in methods), len(values) - MOST_ORIGINS, 0)
    points: dict[str, dict[tuple[int, int], float]] = {method.name: {} for method in methods}
    for origin in range(first, len(values)):
        actuals = values[origin : origin + HORIZONS]
        for method in methods:
            for step, (said, actual) in enumerate(zip(method.forecast(values[:origin]), actuals, strict=False)):
                if said is not None and actual is not None:
                    points[method.name][origin, step + 1] = said - actual
    while points:
        common = sorted(set.intersection(*(set(found) for found in points.values())))
        origins = len({origin for origin, _ in common})
        if origins >= FEWEST_ORIGINS:
            break
        del points[min(reversed(points), key=lambda name: len(points[name]))]
    else:
        return None
    misses = {name: [Miss(*at, found[at]) for at in common] for name, found in points.items()}
    scale, seasonal = mase_scale(values[:-1])
    return Scores(origins, scale, seasonal, misses)


def best(scores: Scores) -> str:
    """The method with the smallest MASE as printed, to two decimals; at a tie the simpler one."""
    unit = scores.scale or 1.0
    return min(scores.misses, key=lambda name: round(scores.mean_error(name) / unit, 2))
