"""One control chart of one measure: its months, its limits, and where they were passed."""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.statistics.control_charts import (
    Limits,
    choose,
    individuals_limits,
    laney_factor,
    p_limits,
    u_limits,
)
from pipeline.statistics.gaps import GapsJudged, inverted, judge_one
from pipeline.statistics.phases import FEWEST_MONTHS, Change, Span, phase_of, spans
from pipeline.statistics.run_rules import RECENT, Runs, about, runs, sides


class Cases(NamedTuple):
    """The cases behind a rare measure, in time order. months: 'YYYY-MM' of each; has: 1 where it has the event;
    weight: what passes between two events with each case: None for cases, hours for a rate."""

    months: list[str]
    has: list[int]
    weight: list[float] | None = None


@dataclass(frozen=True, slots=True)
class Series:
    """A measure by month, as the results table has it; None or NaN where it has no number.

    kind : 'share' (cases out of cases), 'rate' (events per exposure) or 'value' (a median, a ratio of sums)
    unit : as in the results table
    months : 'YYYY-MM' in order; numerator, denominator, value : one a month
    complete : whether the month is; a partial one is drawn hollow and is in no rule
    cases : needed where fewer than 1 event a month is expected
    """

    measure: str
    kind: str
    months: list[str]
    value: list[float | None]
    complete: list[bool]
    numerator: list[float | None] = field(default_factory=list)
    denominator: list[float | None] = field(default_factory=list)
    by: str = "all"
    level: str = "all"
    unit: str = "share"
    cases: Cases | None = None


KINDS = {
    "share": "share",
    "leak_share": "share",
    "median": "value",
    "quartile": "value",
    "time_to_event": "value",
    "ratio": "value",
}
"""Kind of a measure in sql/seeds/measures.csv -> kind of its series; totals have no chart."""


def from_results(rows: pd.DataFrame, kind: str, until: str, cases: Cases | None = None) -> Series:
    """The series of one measure, grouping and level, from its monthly rows of the results table.

    rows : columns as in `results`, one row a month, any order; a method ending '; partial' marks a partial month
    until : the month judged 'YYYY-MM'; later months are kept, hollow, in no rule
    """
    rows = rows[rows["period"].str.len() == 7].sort_values("period")
    first = rows.iloc[0]
    complete = ~rows["method"].str.endswith("; partial") & (rows["period"] <= until)
    return Series(
        measure=first["measure"], kind=kind, months=rows["period"].tolist(), value=rows["value"].tolist(),
        complete=complete.tolist(), numerator=rows["numerator"].tolist(), denominator=rows["denominator"].tolist(),
        by=first["by"], level=first["level"], unit=first["unit"], cases=cases,
    )  # fmt: skip


class Judged(NamedTuple):
    """One span of a chart. span: positions of its points; limits: of all points; middle: what runs are counted
    about; side, signs, runs: of the points judged; base, months: its baseline and judged months 'YYYY-MM'; rate: the
    baseline's share (g chart) or mean time between events (t chart)."""

    span: Span
    limits: Limits
    middle: float
    side: np.ndarray
    signs: np.ndarray
    runs: Runs
    base: list[str]
    months: list[str]
    rate: float = np.nan


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart ready to draw.

    kind : 'p', "p'", 'u', 'individuals', 'g', 't', or 'none' (too few months, drawn without limits); why : in words
    labels : month of each point; values : NaN where unknown; hollow : partial month, or the gap still open
    centre, low, high : limits of each point, NaN where it has none; side : 1 above, -1 below, 0 within or unjudged
    place : position of each judged point among all points; spans : the parts with one baseline each
    months, events, cases, phase : of the complete months with cases, for the rules and the false-signal rate
    """

    series: Series
    changes: list[Change]
    kind: str
    why: str
    labels: list[str]
    values: np.ndarray
    hollow: np.ndarray
    place: np.ndarray
    spans: list[Judged]
    months: list[str]
    events: np.ndarray
    cases: np.ndarray
    phase: np.ndarray

    def _spread(self, pick, fill=np.nan) -> np.ndarray:
        whole = np.full(len(self.labels), fill)
        for part in self.spans:
            whole[self.place[part.span.judged]] = pick(part)
        return whole

    @property
    def centre(self) -> np.ndarray:
        return self._spread(lambda part: part.limits.centre)

    @property
    def low(self) -> np.ndarray:
        return self._spread(lambda part: part.limits.low[part.span.judged])

    @property
    def high(self) -> np.ndarray:
        return self._spread(lambda part: part.limits.high[part.span.judged])

    @property
    def recent_from(self) -> str:
        """First of the last 3 months judged: from here on a signal is news."""
        return sorted({month for part in self.spans for month in part.months})[-RECENT:][0]

    @property
    def side(self) -> np.ndarray:
        return self._spread(lambda part: part.side, 0).astype(int)


def chart(series: Series, changes: list[Change] = ()) -> Chart:
    """The control chart of a series: kind by `control_charts.choose`, baselines by `phases.spans`.

    changes : every stated change; those about other measures are left out.
    """
    changes = [change for change in changes if change.about(series.measure)]
    value, top, bottom = (_numbers(column, len(series.months)) for column in
                          (series.value, series.numerator, series.denominator))  # fmt: skip
    known = np.isfinite(value) & ((series.kind == "value") | (bottom > 0))
    place = np.flatnonzero(known & np.array(series.complete, bool))
    months = [series.months[i] for i in place]
    phase = phase_of(months, changes)
    found = spans(phase)
    events, cases, values = top[place], bottom[place], value[place]
    if not found:
        why = f"No limits yet: {len(months)} complete months with cases to judge, {FEWEST_MONTHS} needed."
        kind = "none"
    else:
        kind, why = choose(series.kind, events, cases, found[0].base)
    if kind in ("g", "t"):
        return _gap_chart(series, changes, kind, why, months, found, (events, cases, phase))
    judged = [_judge(kind, span, values, events, cases, months) for span in found]
    return Chart(
        series, changes, kind, why, series.months, value, ~np.array(series.complete, bool), place, judged,
        months, events, cases, phase,
    )  # fmt: skip


def limits_of(kind: str, values, events, cases, base) -> Limits:
    """Limits by month of any chart by month; p and p' alike take the Laney factor the baseline asks for."""
    if kind in ("p", "p'"):
        return p_limits(events, cases, base, laney_factor(events, cases, base))
    return u_limits(events, cases, base) if kind == "u" else individuals_limits(values, base)


def _judge(kind: str, span: Span, values, events, cases, months: list[str]) -> Judged:
    limits = limits_of(kind, values, events, cases, span.base)
    if kind == "individuals" and (values >= 0).all():
        limits = limits._replace(low=np.maximum(limits.low, 0))
    middle = float(np.median(values[span.base]))
    side = sides(values, limits.low, limits.high)[span.judged]
    signs = about(values[span.judged], middle)
    base, judged = ([months[i] for i in part] for part in span)
    return Judged(span, limits, middle, side, signs, runs(signs), base, judged)


def turned(chart: Chart) -> bool:
    """Whether a g chart counts from one case without it to the next, because those are the rare ones."""
    return chart.kind == "g" and inverted(chart.events, chart.cases, np.isin(chart.months, chart.spans[0].base))


def rarer(chart: Chart) -> np.ndarray:
    """Events by complete month of a g or t chart: cases with it, or without it where those are the rare ones."""
    return chart.cases - chart.events if turned(chart) else chart.events


def _gap_chart(series, changes, kind, why, months, found, counts) -> Chart:
    """A g or t chart: one point an event, and a hollow one for the gap still open."""
    events, cases, phase = counts
    if series.cases is None:
        why = "No limits: fewer than 1 expected a month, and the order of the cases is not at hand."
        hollow = ~np.array(series.complete, bool)
        value = _numbers(series.value, len(series.months))
        return Chart(series, changes, "none", why, series.months, value, hollow, np.empty(0, int), [], months, *counts)
    of_case, has = np.array(series.cases.months, "U7"), np.array(series.cases.has, int)
    weight = None if kind == "g" else np.array(series.cases.weight, float)
    if kind == "g" and inverted(events, cases, found[0].base):
        has = 1 - has
    labels, values, hollow, place, judged = [], [], [], [], []
    for span in found:
        base, own = ([months[i] for i in part] for part in span)
        inside = np.isin(of_case, own)
        gap = judge_one(has[inside], None if weight is None else weight[inside], np.isin(of_case[inside], base))
        points = np.arange(len(place), len(place) + len(gap.lengths))
        judged.append(_judge_span(gap, points, base, own))
        place += range(len(labels), len(labels) + len(gap.lengths))
        labels += [*(str(month) for month in of_case[inside][gap.ends[:-1]]), own[-1]]
        values += list(gap.lengths)
        hollow += [False] * (len(gap.lengths) - 1) + [True]
    if not any(np.isfinite(part.limits.centre) for part in judged):
        why = f"{why[:-1]}; no limits, as the baseline holds none: 3 months together are held against it."
    return Chart(
        series, changes, kind, why, labels, np.array(values, float), np.array(hollow, bool), np.array(place, int),
        judged, months, events, cases, phase,
    )  # fmt: skip


def _judge_span(gap: GapsJudged, points: np.ndarray, base: list[str], months: list[str]) -> Judged:
    low, middle, high = gap.limits
    flat = np.ones(points[-1] + 1)
    limits = Limits(middle, low * flat, high * flat, np.nan * flat)
    return Judged(Span(points, points), limits, middle, gap.side, gap.signs, runs(gap.signs), base, months, gap.rate)


def _numbers(column: list, length: int) -> np.ndarray:
    numbers = np.array([np.nan if one is None else one for one in column], float)
    return numbers if len(numbers) else np.full(length, np.nan)
