"""Forecast of every item: its demand, the methods that may be used, planned changes of clinic.toml."""

from typing import NamedTuple

from pipeline.forecasting import caseload, planned
from pipeline.forecasting.caseload import CaseMix
from pipeline.forecasting.kept import Ahead, Fits
from pipeline.forecasting.methods import FITTED, METHODS, YEAR
from pipeline.forecasting.outlook import Outlook, outlook
from pipeline.stock.demand import Calendar, Demand


class Plans(NamedTuple):
    """What the clinic plans, and the cases a day with such cases had in the last year of the record, by plan."""

    plans: list[planned.Plan]
    cases_a_day: dict[str, float]


def read_plans(db, given: dict, months: Calendar) -> Plans:
    """[planned] of clinic.toml. Raises SettingsFault for what cannot be read."""
    plans = planned.read(given)
    cases_a_day = {}
    for plan in plans:
        cases_a_day[plan.name] = (
            db.execute(
                """
            SELECT count(*) / nullif(count(DISTINCT case_windows.start_day), 0)
            FROM case_windows JOIN stg_cases USING (case_id)
            WHERE case_windows.month_no BETWEEN ? AND ?
                AND (? IS NULL OR stg_cases.species = ?) AND (? IS NULL OR stg_cases.procedure_group = ?)
            """,
                [
                    months.last - YEAR + 1,
                    months.last,
                    plan.species,
                    plan.species,
                    plan.procedure_group,
                    plan.procedure_group,
                ],
            ).fetchone()[0]
            or 0.0
        )
    return Plans(plans, cases_a_day)


def outlooks(
    demands: list[Demand], mix: CaseMix, months: Calendar, plans: Plans, kept: dict[str, Ahead], second
) -> tuple[list[Outlook], dict[str, Ahead]]:
    """The outlook of each item, every other one made in the second process (pipeline.beside), and the fits asked for.

    kept: fits of earlier runs.
    """
    there = second.submit(item_outlooks, demands[1::2], mix, months, plans, kept)
    looks: list = [None] * len(demands)
    looks[::2], used = item_outlooks(demands[::2], mix, months, plans, kept)
    looks[1::2], more = there.result()
    return looks, used | more


def item_outlooks(
    demands: list[Demand], mix: CaseMix, months: Calendar, plans: Plans, kept: dict[str, Ahead]
) -> tuple[list[Outlook], dict[str, Ahead]]:
    """The outlook of each item, and the fits asked for."""
    fits = Fits(kept)
    return [item_outlook(demand, mix, months, plans, fits) for demand in demands], fits.used


def item_outlook(demand: Demand, mix: CaseMix, months: Calendar, plans: Plans, fits: Fits) -> Outlook:
    """The outlook of one item, planned changes in it."""
    methods = [fits.of(method) if method.name in FITTED else method for method in METHODS]
    if demand.kinds:
        methods.append(caseload.method(mix, demand.kinds))
    if not plans.plans:
        return outlook(demand.values, methods)
    rates = _rates(demand, mix)

    def extra(month: int) -> float:
        """What plans in force in a month add to its demand."""
        added = (mix.extra(plan, month, plans.cases_a_day[plan.name]) for plan in plans.plans)
        return sum(rates.get(kind, 0.0) * cases for kinds in added for kind, cases in kinds.items())

    def restated(ahead: int) -> list[float | None] | None:
        month = months.last + ahead
        if any(plan.closed and plan.holds(month) for plan in plans.plans):
            return None
        then = extra(month)
        return [
            None if value is None else max(0.0, value + then - extra(months.first + place))
            for place, value in enumerate(demand.values)
        ]

    return outlook(demand.values, methods, restated)


def _rates(demand: Demand, mix: CaseMix) -> dict[caseload.Kind, float]:
    """Demand a case of each kind; the same for all kinds where the records do not chart the item's use."""
    length = len(demand.values)
    if demand.kinds and (scale := caseload.to_demand(demand.kinds, demand.values)) is not None:
        rates = caseload.use_a_case(mix, demand.kinds, length)
        return {kind: rate * scale for kind, rate in rates.items()}
    year = [place for place in range(max(0, length - YEAR), length) if demand.values[place] is not None]
    cases = sum(series[place] or 0.0 for series in mix.counts.values() for place in year)
    each = sum(demand.values[place] for place in year) / cases if cases else 0.0
    return dict.fromkeys(mix.counts, each)


def monthly_means(look: Outlook, months: Calendar) -> dict[int, float]:
    """Forecast by month number."""
    return {months.last + one.ahead: one.mean for one in look.months}
