"""Demand of each item a month: what patients were charted to use, packs thrown away half full, and what the
shelf lost beside it. Where the two differ too much to be one story, what the shelf lost is what must be ordered.

A month is missing where the clinic had no case (closed), or where the item was out of stock on at least half of
its days: what was not there could not be used. Days on which the shelf stood empty while use was still charted
were served from a pack already opened and do not count. Months that are not complete are left out.
"""

from collections import defaultdict
from datetime import date, timedelta
from typing import NamedTuple

from pipeline.forecasting.caseload import CaseMix, Kind
from pipeline.stock.openings import openings
from pipeline.stock.shelf import Shelf, depletion

EPOCH = date(1970, 1, 1)
YEAR_DAYS = 365
USED = "used"
TOO_FAR = "too far apart: the shelf alone is used"


class Demand(NamedTuple):
    """One item. values: a month, None where missing [base unit]; why_missing: by place in values;
    charted: what the records say, by month, None where they say nothing;
    kinds: the same by kind of case; source: 'records', 'supplied',
    'counts' or 'none'; ratio: shelf over records, None where unknown; factor: the ratio where it is used, else 1;
    ratio_said: 'used', or why it is not;
    by_day: demand by day number; opened, discarded: packs and leftovers by month, where opening limits life."""

    values: list[float | None]
    why_missing: dict[int, str]
    charted: list[float] | None
    kinds: dict[Kind, list[float]]
    source: str
    ratio: float | None
    factor: float
    ratio_said: str
    by_day: dict[int, float]
    opened: list[float]
    discarded: list[float]


class Calendar(NamedTuple):
    """first, last: numbers of the first and the last complete month; closed: months without a case."""

    first: int
    last: int
    closed: set[int]

    @property
    def months(self) -> range:
        return range(self.first, self.last + 1)


def day_number(day: date) -> int:
    return (day - EPOCH).days


def month_of(day: int) -> int:
    """Month number of a day number."""
    at = EPOCH + timedelta(days=day)
    return at.year * 12 + at.month - 1


def days_in(month: int) -> int:
    """
    >>> days_in(2026 * 12 + 1)
    28
    """
    after = month + 1
    return (date(after // 12, after % 12 + 1, 1) - date(month // 12, month % 12 + 1, 1)).days


def calendar(db) -> Calendar | None:
    """Complete months with a case at each end; None where there is none."""
    rows = db.execute("SELECT month_no, cases, complete FROM report_months ORDER BY month_no").fetchall()
    complete = [month for month, _, whole in rows if whole]
    if not complete:
        return None
    closed = {month for month, cases, _ in rows if not cases and complete[0] <= month <= complete[-1]}
    return Calendar(complete[0], complete[-1], closed)


def case_mix(db, months: Calendar) -> CaseMix:
    """Cases a month by species and procedure group."""
    counts: dict[Kind, list] = defaultdict(lambda: [None if month in months.closed else 0.0 for month in months.months])
    rows = db.execute(
        """
        SELECT coalesce(stg_cases.species, 'not recorded'), coalesce(stg_cases.procedure_group, 'not recorded'),
            case_windows.month_no, count(*)
        FROM case_windows JOIN stg_cases USING (case_id)
        WHERE case_windows.month_no BETWEEN ? AND ? GROUP BY ALL ORDER BY ALL
        """,
        [months.first, months.last],
    ).fetchall()
    for species, group, month, cases in rows:
        counts[species, group][month - months.first] = float(cases)
    return CaseMix(months.first, dict(counts))


def demands(db, months: Calendar, shelves: dict[str, Shelf], rules: dict[str, float], today: date) -> dict[str, Demand]:
    """Demand of every item of stock_items; today: the record's last day."""
    items = db.execute("SELECT item, pack_size, open_days FROM stock_items ORDER BY item").fetchall()
    use: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    kinds: dict[str, dict[Kind, list[float]]] = defaultdict(lambda: defaultdict(lambda: [0.0] * len(months.months)))
    for item, of_case, species, group, day, month, qty in db.execute("""
        SELECT item, case_id IS NOT NULL, species, procedure_group, date_diff('day', DATE '1970-01-01', use_day),
            month_no, sum(qty)
        FROM item_use WHERE use_day IS NOT NULL AND qty IS NOT NULL GROUP BY ALL ORDER BY ALL
    """).fetchall():
        use[item][day] += qty
        if of_case and months.first <= month <= months.last:
            kinds[item][species, group][month - months.first] += qty
    return {
        item: _demand(
            months, use.get(item, {}), kinds.get(item, {}), shelves.get(item), pack, open_days, rules, day_number(today)
        )
        for item, pack, open_days in items
    }


def _demand(months: Calendar, use, kinds, shelf: Shelf | None, pack, open_days, rules, today: int) -> Demand:
    opened = openings(use, pack, open_days) if use and pack and open_days else {}
    by_day = {day: float(one.packs * pack) for day, one in opened.items() if one.packs} if opened else dict(use)
    source, ratio, said = "records", None, "nothing is charted"
    if use:
        ratio, said = _ratio(by_day, shelf, rules)
    elif shelf and shelf.supplied:
        source, by_day = "supplied", dict(shelf.supplied)
    elif shelf and (spent := _between_counts(shelf)):
        source, by_day = "counts", spent
    else:
        source = "none"
    if said == TOO_FAR:
        source, by_day = ("supplied", dict(shelf.supplied)) if shelf.supplied else ("counts", _between_counts(shelf))
    factor = ratio if said == USED else 1.0
    values: list[float | None] = [0.0] * len(months.months)
    for day, quantity in by_day.items():
        if months.first <= month_of(day) <= months.last:
            values[month_of(day) - months.first] += quantity * factor
    missing = {month - months.first: "closed" for month in months.closed}
    missing |= {month - months.first: "out of stock" for month in _empty_months(shelf, use, months, today)}
    for place in missing:
        values[place] = None
    return Demand(
        values=values if source != "none" else [None] * len(values),
        why_missing=missing,
        charted=_by_month(months, use) if use else None,
        kinds={kind: list(series) for kind, series in kinds.items()},
        source=source,
        ratio=ratio,
        factor=factor,
        ratio_said=said,
        by_day={day: quantity * factor for day, quantity in by_day.items()},
        opened=_by_month(months, {day: one.packs for day, one in opened.items()}),
        discarded=_by_month(months, {day: one.discarded for day, one in opened.items()}),
    )


def _ratio(by_day: dict[int, float], shelf: Shelf | None, rules) -> tuple[float | None, str]:
    """What the shelf lost over what the records say, between counts of the last year of them; and if it is used."""
    if shelf is None or not shelf.counts:
        return None, "not counted"
    last = shelf.counts[-1]
    first = next(count for count in shelf.counts if count.day >= last.day - YEAR_DAYS)
    if last.day - first.day < rules["fewest_counted_days"]:
        return None, "counts too close together"
    spent = depletion(first, last)
    charted = sum(used for day, used in by_day.items() if first.day <= day < last.day)
    if spent is None or spent <= 0 or charted <= 0:
        return None, "cannot be compared"
    ratio = spent / charted
    fits = rules["ratio_fault_low"] <= ratio <= rules["ratio_fault_high"]
    return ratio, USED if fits else TOO_FAR


def _between_counts(shelf: Shelf) -> dict[int, float]:
    """Use of an item nobody charts: what each stretch between two counts lost, spread over its days."""
    by_day: dict[int, float] = {}
    for earlier, later in zip(shelf.counts, shelf.counts[1:], strict=False):
        spent = depletion(earlier, later)
        if spent is not None and later.day > earlier.day:
            by_day |= {day: max(0.0, spent) / (later.day - earlier.day) for day in range(earlier.day, later.day)}
    return by_day


def _empty_months(shelf: Shelf | None, use: dict[int, float], months: Calendar, today: int) -> set[int]:
    """Months on at least half of whose days the item was out of stock; today: day number of the record's end."""
    out_days: dict[int, int] = defaultdict(int)
    for day, until in shelf.empty if shelf else ():
        end = today + 1 if until is None else until
        last_use = max((used for used in use if day <= used < end), default=day - 1)
        for out in range(last_use + 1, end):
            out_days[month_of(out)] += 1
    return {month for month, days in out_days.items() if month in months.months and days >= days_in(month) / 2}


def _by_month(months: Calendar, by_day: dict[int, float]) -> list[float]:
    totals = [0.0] * len(months.months)
    for day, quantity in by_day.items():
        if months.first <= month_of(day) <= months.last:
            totals[month_of(day) - months.first] += quantity
    return totals
