"""Lots that will expire before they are used, if the first to expire is used first."""

from datetime import date, timedelta
from typing import NamedTuple

from pipeline.stock.demand import days_in


class Lot(NamedTuple):
    """lot, expires_on as on the pack; left: quantity still there [base unit]."""

    lot: str | None
    expires_on: date | None
    left: float


class Expiring(NamedTuple):
    """lot, expires_on, left as in Lot; unused: what will be there on the day it expires [base unit]."""

    lot: str | None
    expires_on: date
    left: float
    unused: float


def expiring(lots: list[Lot], daily: list[float], today: date, within_days: float) -> list[Expiring]:
    """Dated lots that expire within so many days, or have. daily: forecast demand from today on [base unit].

    Use takes the lot that expires first; an expired lot is used by nobody. A lot is good through its date.
    """
    found, taken = [], 0.0
    for lot in sorted((lot for lot in lots if lot.expires_on and lot.left > 1e-9), key=lambda lot: lot.expires_on):
        days = (lot.expires_on - today).days
        if days > within_days:
            break
        usable = max(0.0, sum(daily[: days + 1]) - taken) if days >= 0 else 0.0
        used = min(lot.left, usable)
        taken += used
        found.append(Expiring(lot.lot, lot.expires_on, lot.left, lot.left - used))
    return found


def days_ahead(today: date, monthly: dict[int, float], days: int) -> list[float]:
    """Demand of each coming day from demand by month number; past the last month, the mean of those months."""
    if not monthly:
        return [0.0] * days
    rates = {month: demand / days_in(month) for month, demand in monthly.items()}
    beyond = sum(monthly.values()) / sum(days_in(month) for month in monthly)
    coming = (today + timedelta(days=step) for step in range(1, days + 1))
    return [rates.get(day.year * 12 + day.month - 1, beyond) for day in coming]
