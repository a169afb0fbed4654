"""How often the charts of a page would fire if nothing had changed: said on the page, and tested."""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from scipy.special import chdtrc

from pipeline.statistics.charts import Chart, limits_of, rarer
from pipeline.statistics.control_charts import LOW_TAIL, laney_factor
from pipeline.statistics.gaps import clusters, draw_events, judge_gaps
from pipeline.statistics.run_rules import RECENT, about, runs, sides
from pipeline.statistics.signals import STEP_Z, step_z, steps

DRAWS, GAP_DRAWS, SEED = 8000, 2000, 20260101


class FalseSignals(NamedTuple):
    """Probability of one false signal or more on a chart [fraction]: ever, and in the last 3 months."""

    ever: float
    recent: float


class PageRate(NamedTuple):
    """charts: charts judged; expected, expected_recent: of them, how many show a false signal on average; page:
    probability that the page shows one or more, as if its charts were independent; page_recent: likewise."""

    charts: int
    expected: float
    expected_recent: float
    page: float
    page_recent: float


def page_rate(charts: Iterable[Chart]) -> PageRate:
    """The false signals that a page of these charts gives by chance. Charts without limits are not counted.

    `expected` holds however the charts depend on each other; `page` is for independent ones: measures of the
    same cases rise and fall together, so fewer pages than that have a false signal, and those have more.
    """
    rates = [false_signals(chart) for chart in charts if chart.spans]
    ever, recent = np.array([[rate.ever, rate.recent] for rate in rates] or np.empty((0, 2))).reshape(-1, 2).T
    return PageRate(
        len(rates), float(ever.sum()), float(recent.sum()), float(1 - np.prod(1 - ever)),
        float(1 - np.prod(1 - recent)),
    )  # fmt: skip


def false_signals(chart: Chart) -> FalseSignals:
    """Chance of a signal on one chart whose months are all alike, by drawing such charts and judging them.

    The same months, cases, baselines and rules as the chart itself, so that small months, baselines of 8 to 12
    months and whole counts are in the answer, which no formula holds. Drawn with a fixed seed: binomial at the
    share of all judged months (p), Poisson (u), normal with the spread found (p', individuals), each case of a g
    or t chart by its own chance.
    """
    if not chart.spans:
        return FalseSignals(0.0, 0.0)
    drawn = np.random.default_rng(SEED)
    if chart.kind in ("g", "t"):
        return _gap_rate(chart, drawn)
    events, values = _unchanged(chart, drawn)
    ever = np.zeros(len(values), bool)
    recent = ever.copy()
    months = values.shape[-1]
    for part in chart.spans:
        base, judged = part.span.base, part.span.judged
        limits = limits_of(chart.kind, values, events, chart.cases, base)
        side = sides(values, limits.low, limits.high)[..., judged]
        found = runs(about(values[..., judged], np.median(values[..., base], axis=-1)))
        ever |= side.any(-1) | found.run | found.cross
        last = np.flatnonzero(judged >= months - RECENT)
        if len(last):
            recent |= side[..., last].any(-1) | found.late | found.cross
    for _, old, new in steps(chart):
        z = np.abs(step_z(chart.kind, values, events, chart.cases, old, new)[2])
        ever |= z > STEP_Z
        if new[-1] >= months - RECENT:
            recent |= z > STEP_Z
    return FalseSignals(float(ever.mean()), float(recent.mean()))


def _unchanged(chart: Chart, drawn: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Events and values of DRAWS series without change, one row a series."""
    shape = (DRAWS, len(chart.place))
    if chart.kind == "individuals":
        return np.zeros(shape), drawn.normal(size=shape)
    rate = chart.events.sum() / chart.cases.sum()
    if chart.kind == "u":
        events = drawn.poisson(rate * chart.cases, shape)
        return events, events / chart.cases
    spread = float(laney_factor(chart.events, chart.cases, chart.spans[0].span.base))
    if spread > 1 and _uneven(chart, rate):
        sigma = spread * np.sqrt(rate * (1 - rate) / chart.cases)
        values = np.clip(drawn.normal(rate, sigma, shape), 0, 1)
        return values * chart.cases, values
    events = drawn.binomial(chart.cases.astype(int), rate, shape)
    return events, events / chart.cases


def _uneven(chart: Chart, rate: float) -> bool:
    """Whether all judged months together vary more than chance: chi-square test at 5 %. A baseline alone may
    exceed sigma-z 1.2 by chance, and often does: 12 months tell a spread badly."""
    z = (chart.events - rate * chart.cases) / np.sqrt(rate * (1 - rate) * chart.cases)
    return bool(chdtrc(len(z) - 1, (z**2).sum()) < 0.05)


def _gap_rate(chart: Chart, drawn: np.random.Generator) -> FalseSignals:
    of_case = np.array(chart.series.cases.months, "U7")
    known = np.isin(of_case, chart.months)
    month = np.searchsorted(chart.months, of_case[known])
    weight = None if chart.kind == "g" else np.array(chart.series.cases.weight, float)[known]
    row, at = _rare_events(chart, weight, len(month), drawn)
    events = np.bincount(row * len(chart.months) + month[at], minlength=GAP_DRAWS * len(chart.months))
    events = events.reshape(GAP_DRAWS, -1)
    fired = np.zeros((2, GAP_DRAWS), bool)
    recent_from = chart.months.index(chart.recent_from)
    for part in chart.spans:
        base, judged = (np.flatnonzero(np.isin(chart.months, of)) for of in (part.base, part.months))
        windows, tails = clusters(events, chart.cases, base, judged)
        over = tails < LOW_TAIL
        fired |= np.stack([over.any(-1), over[:, windows >= recent_from].any(-1)])
        inside = np.isin(month, judged)
        kept, spot = inside[at], np.cumsum(inside) - 1
        gap = judge_gaps(row[kept], spot[at[kept]], GAP_DRAWS, None if weight is None else weight[inside],
                         np.isin(month[inside], base))  # fmt: skip
        news = (month[inside] >= recent_from)[gap.ends]
        found = runs(gap.signs, news)
        fired[0] |= (gap.side != 0).any(-1) | found.run | found.cross
        fired[1] |= news[:, -1] & (((gap.side != 0) & news).any(-1) | found.late | found.cross)
    return FalseSignals(*(float(part) for part in fired.mean(-1)))


def _rare_events(chart: Chart, weight, cases: int, drawn: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Series and position of each event in GAP_DRAWS series without change of the chart's cases."""
    share = rarer(chart).sum() / chart.cases.sum()
    return draw_events(np.full(cases, -np.log1p(-share)) if weight is None else share * weight, GAP_DRAWS, drawn)
