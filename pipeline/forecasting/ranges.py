"""80 and 95 % ranges of a forecast from the misses of past ones, and how often such ranges held."""

from collections.abc import Sequence
from functools import cache
from math import sqrt

from pipeline.forecasting.backtest import Miss

LEVELS = (0.80, 0.95)


def spread(misses: Sequence[Miss], ahead: int) -> tuple[float, int]:
    """Root mean square miss of forecasts so many months ahead [unit of the demand], and of how many."""
    errors = [miss.error for miss in misses if miss.ahead == ahead]
    return (sqrt(sum(error**2 for error in errors) / len(errors)) if errors else 0.0), len(errors)


def half_width(sd: float, errors: int, level: float) -> float:
    """Half the width of a two-sided range: Student's t, as the spread itself comes from few errors.

    >>> round(half_width(1.0, 10, 0.95), 3)  # t table: 2.228 at 10 degrees of freedom
    2.228
    """
    return _t(max(errors, 1), level) * sd


@cache
def _t(freedom: int, level: float) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(freedom, (1 + level) / 2))


def coverage(misses: Sequence[Miss], level: float) -> tuple[int, int]:
    """How many past months lay inside their range, of how many. Each range is made without its own origin."""
    inside = judged = 0
    for origin in {miss.origin for miss in misses}:
        others = [miss for miss in misses if miss.origin != origin]
        for miss in (miss for miss in misses if miss.origin == origin):
            sd, errors = spread(others, miss.ahead)
            if errors:
                judged += 1
                inside += abs(miss.error) <= half_width(sd, errors, level) + 1e-9
    return inside, judged
