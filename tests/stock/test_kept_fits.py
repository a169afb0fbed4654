"""Fitted forecasts that are kept change no number: the same months give the same forecast."""

import random

from pipeline.beside import Here
from pipeline.forecasting import kept
from pipeline.forecasting.caseload import CaseMix
from pipeline.forecasting.methods import METHODS, Method, seasonal_smoothing
from pipeline.stock.demand import Calendar, Demand
from pipeline.stock.outlooks import Plans, outlooks

FIRST = 2020 * 12


def demand(seed: int, months: int = 52) -> Demand:
    """Months with a strong season, so that the fitted method is tried and mostly wins."""
    draw = random.Random(seed)
    values = [100.0 + 60.0 * (month % 12 in (5, 6, 7)) + draw.uniform(-3, 3) for month in range(months)]
    return Demand(values, {}, values, {}, "records", None, 1.0, "nothing is charted", {}, [], [])


def looked(demands, fits, months=52):
    calendar = Calendar(FIRST, FIRST + months - 1, set())
    return outlooks(demands, CaseMix(FIRST, {}), calendar, Plans([], {}), fits, Here())


def test_looks_from_kept_fits_are_those_made_anew():
    demands = [demand(seed) for seed in (1, 2, 3)]
    fresh, used = looked(demands, {})
    again, asked = looked(demands, used)
    assert fresh == again and used == asked
    assert "seasonal_smoothing" in {look.method for look in fresh}


def test_a_month_more_asks_for_few_new_fits_and_forgets_the_oldest():
    _, used = looked([demand(1, 60)], {}, 60)
    longer, asked = looked([demand(1, 61)], used, 61)
    assert longer == looked([demand(1, 61)], {}, 61)[0]
    assert len(asked.keys() - used.keys()) == 1 and len(used.keys() - asked.keys()) <= 1


def test_what_is_kept_is_used_for_the_same_months_only():
    method = next(one for one in METHODS if one.forecast is seasonal_smoothing)
    values = demand(4).values
    fits = kept.Fits({kept.key(method.name, values): (7.0, 8.0, None)})
    assert fits.of(method).forecast(values) == (7.0, 8.0, None)
    other = [*values[:-1], values[-1] + 1e-9]
    assert fits.of(method).forecast(other) == tuple(seasonal_smoothing(other))
    assert kept.key("another", values) != kept.key(method.name, values)
    assert Method(*fits.of(method)[:3], method.forecast) == method
