"""Forecast from the patients: cases expected of each kind, times what a case of that kind uses.

A kind is a species and a procedure group. Expected cases come from exponential smoothing of each kind's
months, use a case from the last 12 months before the origin, so a shifting mix shows before the totals do.
"""

from collections.abc import Mapping, Sequence

from pipeline.forecasting.methods import HORIZONS, YEAR, Demand, Method, smoothing
from pipeline.forecasting.planned import Plan

Kind = tuple[str, str]


class CaseMix:
    """Cases a month by kind, None in months the clinic was closed; first: number of the first month."""

    def __init__(self, first: int, counts: Mapping[Kind, Sequence[float | None]]):
        self.first = first
        self.counts = {kind: list(months) for kind, months in counts.items()}
        self._expected: dict[tuple[Kind, int], float] = {}

    def expected(self, kind: Kind, known_months: int) -> float:
        """Cases of a kind in each of the months after the first known_months; 0.0 where none is known."""
        asked = kind, known_months
        if asked not in self._expected:
            self._expected[asked] = smoothing(self.counts[kind][:known_months])[0] or 0.0
        return self._expected[asked]

    def recent(self, kind: Kind, known_months: int) -> float:
        """Mean cases of a kind a month over the 12 months up to there; 0.0 where none is known."""
        months = [count for count in self.counts[kind][max(0, known_months - YEAR) : known_months] if count is not None]
        return sum(months) / len(months) if months else 0.0

    def extra(self, plan: Plan, month: int, cases_a_day: float) -> dict[Kind, float]:
        """Cases that a plan adds in a month, shared among the kinds it covers as they came in the last year."""
        if plan.closed or not plan.holds(month):
            return {}
        known_months = len(next(iter(self.counts.values()), []))
        usual = {kind: self.recent(kind, known_months) for kind in self.counts if plan.covers(*kind)}
        total = sum(usual.values())
        if not total:
            return {}
        added = plan.more_days * cases_a_day if plan.more_cases is None else plan.more_cases
        return {kind: added * cases / total for kind, cases in usual.items()}


def use_a_case(mix: CaseMix, use: Mapping[Kind, Sequence[float]], known_months: int) -> dict[Kind, float]:
    """What a case of each kind used over the 12 months up to there [unit of use]; kinds without a case: absent."""
    rates = {}
    for kind, counts in mix.counts.items():
        months = [month for month in range(max(0, known_months - YEAR), known_months) if counts[month] is not None]
        cases = sum(counts[month] for month in months)
        if cases:
            rates[kind] = sum(use[kind][month] for month in months) / cases if kind in use else 0.0
    return rates


def to_demand(use: Mapping[Kind, Sequence[float]], values: Demand) -> float | None:
    """Demand over what the records say was used, last 12 months (the shelf may say more): 1 where neither says
    anything was used, None where only one of them does."""
    year = [month for month in range(max(0, len(values) - YEAR), len(values)) if values[month] is not None]
    charted = sum(series[month] for series in use.values() for month in year)
    demand = sum(values[month] for month in year)
    return demand / charted if charted else None if demand else 1.0


def method(mix: CaseMix, use: Mapping[Kind, Sequence[float]]) -> Method:
    """The caseload method of one item. use: what the records say cases of each kind used, by month, aligned
    with the mix; the forecast is scaled from it to the demand of the last 12 months."""

    def forecast(values: Demand) -> list[float | None]:
        scale = to_demand(use, values)
        if scale is None:
            return [None] * HORIZONS
        months = len(values)
        rates = use_a_case(mix, use, months)
        return [scale * sum(rate * mix.expected(kind, months) for kind, rate in rates.items())] * HORIZONS

    return Method("caseload", "expected cases times use a case", 3, forecast)
