"""When to order and how many packs: order point, order-by day, quantity, and what another service level costs."""

from math import ceil, sqrt
from statistics import NormalDist
from typing import NamedTuple

DAYS_A_MONTH = 30.4375


class Lead(NamedTuple):
    """Demand over the lead time: mean and standard deviation [base unit]."""

    mean: float
    sd: float


class Terms(NamedTuple):
    """How an item is ordered. pack: content [base unit]; lead_days d; service: share of lead times without a
    stock-out; minimum: smallest quantity to keep [base unit]; shelf_days d, None without; cover_days d."""

    pack: float
    lead_days: float
    service: float
    minimum: float
    shelf_days: float | None
    cover_days: float


class Order(NamedTuple):
    """point, target in base unit; days_left: until nothing is there, None beyond the forecast's reach;
    days_to_order: until the order point is reached, 0 now; packs: to order then."""

    point: float
    target: float
    days_left: float | None
    days_to_order: int | None
    packs: int
    limited_by_shelf: bool


def order_point(mean: float, sd: float, service: float) -> float:
    """Stock at which to order, so that demand over the lead time exceeds it in at most 1 - service of all times.

    Parameters
    ----------
    mean, sd : demand over the lead time [base unit]
    service : share of lead times that must pass without a stock-out, between 0 and 1

    Notes
    -----
    The normal quantile, mean + z sd. Where sd is more than half the mean, a normal demand would be below nothing
    in more than 1 of 40 lead times; such items are needed seldom and then much, and the gamma quantile of the same
    mean and sd is used where it is larger.

    Examples
    --------
    Mean 50, standard deviation 5, risk of a stock-out 3 %: printed as 59.40 with z = 1.88 in [1].

    >>> round(order_point(50, 5, 0.97), 2)
    59.4

    Sources
    -------
    [1] Stevenson WJ. Operations Management, 14th ed. 2021, chapter 12, example 8.
    """
    point = max(0.0, mean + NormalDist().inv_cdf(service) * sd)
    return max(point, _gamma_quantile(mean, sd, service)) if 0 < mean < 2 * sd else point


def _gamma_quantile(mean: float, sd: float, service: float) -> float:
    from scipy.special import gammaincinv

    return float(gammaincinv((mean / sd) ** 2, service) * sd**2 / mean)


def packs_up(quantity: float, pack: float) -> int:
    """Whole packs that hold at least the quantity.

    >>> packs_up(59.4, 10), packs_up(60.0, 10)
    (6, 6)
    """
    return ceil(quantity / pack - 1e-9)


def lead_demand(daily: list[float], lead_days: float, month_sd: float) -> Lead:
    """Demand over the lead time from a forecast by day and the spread of a month's forecast.

    The spread of a stretch grows with the square root of its length, as for independent days.
    """
    whole = int(lead_days)
    mean = sum(daily[:whole]) + (daily[whole] * (lead_days - whole) if whole < len(daily) else 0.0)
    return Lead(mean, month_sd * sqrt(lead_days / DAYS_A_MONTH))


def order(on_hand: float, daily: list[float], month_sd: float, terms: Terms) -> Order:
    """What to order and when. daily: forecast demand of the coming days [base unit], at least lead time and cover.

    The order point is rounded up to whole packs and never under the minimum. An order fills up to the point
    and the cover beyond it, in whole packs, no more than what is used before it would expire.
    """
    lead = lead_demand(daily, terms.lead_days, month_sd)
    point = terms.pack * packs_up(max(order_point(lead.mean, lead.sd, terms.service), terms.minimum), terms.pack)
    cover = sum(daily[: int(terms.cover_days)])
    target = point + cover
    days_left = _days_until(0.0, on_hand, daily)
    reached = 0 if on_hand <= point else _days_until(point, on_hand, daily)
    packs = max(1, packs_up(target - min(on_hand, point), terms.pack)) if target > 0 else 0
    limited = False
    if terms.shelf_days is not None:
        rate = sum(daily) / len(daily)
        most = max(1, int((terms.shelf_days * rate - on_hand) / terms.pack)) if packs else 0
        limited, packs = most < packs, min(packs, most)
    return Order(point, target, days_left, None if reached is None else int(reached), packs, limited)


def _days_until(level: float, on_hand: float, daily: list[float]) -> float | None:
    """Days of forecast demand until the stock is down to a level; None if the forecast ends before."""
    if on_hand <= level:
        return 0.0
    left = on_hand - level
    for day, needed in enumerate(daily):
        if needed >= left:
            return day + left / needed
        left -= needed
    return None


class Tied(NamedTuple):
    """One service level: packs kept on average above what is used up before an order comes, and half an order."""

    service: float
    point: float
    average: float


def tied_up(lead: Lead, terms: Terms, cover: float, service: float) -> Tied:
    """Average stock at a service level: what remains when an order arrives and half of what it brings [base unit]."""
    wanted = max(order_point(lead.mean, lead.sd, service), terms.minimum)
    point = terms.pack * packs_up(wanted, terms.pack)
    batch = terms.pack * max(1, packs_up(cover, terms.pack))
    return Tied(service, point, max(0.0, point - lead.mean) + batch / 2)
