"""One item's next three months: the method that past forecasts favor, its ranges, and why in a sentence."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from pipeline.forecasting.backtest import FEWEST_ORIGINS, Scores, backtest, best
from pipeline.forecasting.methods import HORIZONS, Demand, Method, known, smoothing
from pipeline.forecasting.ranges import LEVELS, coverage, half_width, spread


class MonthAhead(NamedTuple):
    """ahead: months after the last known; the rest in the unit of the demand."""

    ahead: int
    mean: float
    low_80: float
    high_80: float
    low_95: float
    high_95: float
    sd: float


class Outlook(NamedTuple):
    """months: HORIZONS of them, empty where nothing is known. mase, naive_mase: None where not judged; next_best:
    the method that missed least but one, None where there is none.
    held: (inside, judged) past months at 80 and at 95 %."""

    method: str
    why: str
    months: list[MonthAhead]
    origins: int
    errors: int
    mase: float | None
    naive_mase: float | None
    next_best: str | None
    next_mase: float | None
    held: tuple[tuple[int, int], tuple[int, int]]


def outlook(
    values: Demand, methods: Sequence[Method], restated: Callable[[int], Demand | None] | None = None
) -> Outlook:
    """Forecast of the months after the last value.

    Parameters
    ----------
    values : demand a month [any unit], None where missing; the last one is the last complete month
    methods : methods in order of simplicity
    restated : for months ahead 1 to HORIZONS, the values as they would have been with that month's planned
        changes always in force; None where the clinic is then closed. Without it nothing is planned.
    """
    scores = backtest(values, methods)
    if scores is None:
        return _untested(values, methods, restated)
    name = best(scores)
    method = next(method for method in methods if method.name == name)
    misses = scores.misses[name]
    months = []
    for ahead in range(1, HORIZONS + 1):
        mean = _ahead(method, values, restated, ahead)
        if mean is None:
            break
        months.append(_month(ahead, mean, *spread(misses, ahead)))
    runner = min((other for other in scores.misses if other != name), key=scores.mean_error, default=None)
    held = tuple(coverage(misses, level) for level in LEVELS)
    naive = scores.mase("seasonal_naive") if "seasonal_naive" in scores.misses else None
    return Outlook(
        method=name,
        why=_why(method, runner, methods, scores),
        months=months,
        origins=scores.origins,
        errors=len(misses),
        mase=scores.mase(name),
        naive_mase=naive,
        next_best=runner,
        next_mase=scores.mase(runner) if runner else None,
        held=held,
    )


def _ahead(method: Method, values: Demand, restated, ahead: int) -> float | None:
    """The mean for one month ahead; 0 in a month the clinic plans to be closed."""
    history = values if restated is None else restated(ahead)
    if history is None:
        return 0.0
    mean = method.forecast(history)[ahead - 1]
    return None if mean is None else max(0.0, mean)


def _month(ahead: int, mean: float, sd: float, errors: int) -> MonthAhead:
    if mean == 0.0:
        sd = 0.0
    (narrow, wide) = (half_width(sd, errors, level) for level in LEVELS)
    return MonthAhead(ahead, mean, max(0.0, mean - narrow), mean + narrow, max(0.0, mean - wide), mean + wide, sd)


def _untested(values: Demand, methods: Sequence[Method], restated) -> Outlook:
    """Too few months for 12 past starts: smoothing, with the spread of the months themselves."""
    given = known(values)
    method = next((method for method in methods if method.name == "smoothing"), Method("smoothing", "", 1, smoothing))
    months = []
    if given:
        middle = sum(given) / len(given)
        freedom = max(len(given) - 1, 1)
        # one month alone says nothing about spread: take it to be as large as the month itself
        sd = (sum((value - middle) ** 2 for value in given) / freedom) ** 0.5 if len(given) > 1 else middle
        for ahead in range(1, HORIZONS + 1):
            mean = _ahead(method, values, restated, ahead)
            if mean is not None:
                months.append(_month(ahead, mean, sd, freedom))
    few = "1 known month is" if len(given) == 1 else f"{len(given)} known months are"
    why = (
        f"{few} too few to test a forecast on {FEWEST_ORIGINS} past starts: exponential smoothing, with a range as "
        "wide as the months differ."
        if given
        else "No month is known, so there is no forecast."
    )
    return Outlook("smoothing", why, months, 0, 0, None, None, None, None, ((0, 0), (0, 0)))


def _why(method: Method, runner: str | None, methods: Sequence[Method], scores: Scores) -> str:
    """The sentence beside a forecast."""
    change = "the change from the same month a year before" if scores.seasonal_scale else "the change a month"
    if runner is None:
        return f"{_first_upper(method.words)}: the only method that so few months allow."
    words = next(other.words for other in methods if other.name == runner)
    if scores.scale is None:
        size = f"{scores.mean_error(method.name):.2f}, next {words} {scores.mean_error(runner):.2f}"
    else:
        size = f"{scores.mase(method.name):.2f} of {change}, next {words} {scores.mase(runner):.2f}"
    return (
        f"{_first_upper(method.words)} missed least from {scores.origins} past starts: {size}"
        f"{'; a tie goes to the simpler' if _tied(scores, method.name, runner) else ''}."
    )


def _tied(scores: Scores, name: str, runner: str) -> bool:
    unit = scores.scale or 1.0
    return round(scores.mean_error(name) / unit, 2) == round(scores.mean_error(runner) / unit, 2)


def _first_upper(words: str) -> str:
    return words[:1].upper() + words[1:]
