"""What fired: the signals of a control chart, where, since when and how strong."""

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from math import erfc, sqrt

import numpy as np
import pandas as pd
from scipy.special import stdtr
from scipy.stats import binom, poisson

from pipeline.statistics.charts import Chart, Judged, limits_of, rarer, turned
from pipeline.statistics.control_charts import LOW_TAIL, laney_factor
from pipeline.statistics.gaps import clusters
from pipeline.statistics.phases import FEWEST_MONTHS
from pipeline.statistics.proportions import newcombe
from pipeline.statistics.run_rules import FEWEST_USEFUL, RECENT, all_runs, crossing_tail, run_tail

STEP_Z = 3.0
"""How far a stated change must move a measure to be a signal [standard errors]: the width of the limits."""


@dataclass(frozen=True, slots=True)
class Signal:
    """One rule that fired on one chart.

    rule : 'limits' (a point beyond them), 'run' (on one side of the baseline median, longer than chance allows),
        'crossings' (of that median, fewer than chance allows), 'cluster' (3 months together hold more than the
        baseline allows by an exact test) or 'change' (the months since a stated one differ from those before)
    side : 'above', 'below' or '' (crossings)
    since, until : first and last month of it, 'YYYY-MM'; points : months (or gaps) in it
    strength : probability of as much or more on one such chart by chance [fraction]; smaller is stronger.
        Limits: the tail of the farthest point, times the points judged. Run, crossings: of a fair coin. Change:
        two-sided normal
    recent : whether it reaches into the last 3 months judged
    parts : numbers for the sentence; look : what to look at
    """

    measure: str
    by: str
    level: str
    chart: str
    rule: str
    side: str
    since: str
    until: str
    points: int
    strength: float
    recent: bool
    look: str
    parts: dict = field(default_factory=dict)


def signals(chart: Chart) -> list[Signal]:
    """The signals of a chart, strongest first."""
    found = [
        signal
        for part in chart.spans
        for signal in (*_beyond(chart, part), *_run_rules(chart, part), *_clusters(chart, part))
    ]
    return sorted([*found, *_steps(chart)], key=lambda signal: (signal.strength, signal.since, signal.rule))


def table(found: list[Signal], sentence: Callable[[Signal], str]) -> pd.DataFrame:
    """Rows of the `signals` table: what fired, where, since when, how strong, what to look at, in words."""
    columns = [column.name for column in fields(Signal) if column.name != "parts"]
    rows = [[*(getattr(one, column) for column in columns), sentence(one)] for one in found]
    return pd.DataFrame(rows, columns=[*columns, "sentence"])


def steps(chart: Chart) -> list[tuple[str, np.ndarray, np.ndarray]]:
    """For each month in which stated changes begin: it, positions of the judged months before and since.

    Only where 8 complete months lie before, and not for rare events.
    """
    if chart.kind in ("none", "g", "t"):
        return []
    numbers = np.unique(chart.phase)
    found = []
    for before, since in zip(numbers[:-1], numbers[1:], strict=True):
        old, new = np.flatnonzero(chart.phase == before), np.flatnonzero(chart.phase == since)
        if len(old) >= FEWEST_MONTHS:
            found.append((chart.changes[since - 1].first_month, old, new))
    return found


def step_z(kind: str, values, events, cases, old, new) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Difference of the months since a change from those before, its standard error if nothing changed, and z.

    Shares and rates are pooled over their months, spread by the Laney factor of the months before where that
    holds; values are means of months, spread as on an individuals chart.
    """
    if kind == "individuals":
        sigma = limits_of(kind, values, events, cases, old).sigma[..., 0]
        difference = values[..., new].mean(-1) - values[..., old].mean(-1)
        error = sigma * sqrt(1 / len(new) + 1 / len(old))
    else:
        (e0, n0), (e1, n1) = ((events[..., part].sum(-1), cases[..., part].sum(-1)) for part in (old, new))
        difference, pooled = e1 / n1 - e0 / n0, (e0 + e1) / (n0 + n1)
        binomial = kind != "u"
        factor = laney_factor(events, cases, old) if binomial else 1.0
        error = factor * np.sqrt(pooled * ((1 - pooled) if binomial else 1.0) * (1 / n1 + 1 / n0))
    with np.errstate(invalid="ignore", divide="ignore"):
        return difference, error, np.where(error > 0, difference / error, 0.0)


def _beyond(chart: Chart, part: Judged):
    """One signal a side: the latest points beyond that lie at most 2 months apart."""
    place = chart.place[part.span.judged]
    for sign, side in ((1, "above"), (-1, "below")):
        hits = np.flatnonzero(part.side == sign)
        if not len(hits):
            continue
        first = len(hits) - 1
        while first and hits[first] - hits[first - 1] <= RECENT:
            first -= 1
        hits = hits[first:]
        tails = [_tail(chart, part, int(part.span.judged[hit])) for hit in hits]
        last = int(part.span.judged[hits[-1]])
        yield _signal(
            chart, part, "limits", side, chart.labels[place[hits[0]]], chart.labels[place[hits[-1]]], len(hits),
            min(1.0, min(tails) * len(part.side)),
            {"limit": float((part.limits.high if sign > 0 else part.limits.low)[last]), **_counts(chart, [last])},
        )  # fmt: skip


def _run_rules(chart: Chart, part: Judged):
    place, judged = chart.place[part.span.judged], part.span.judged
    useful = int(part.runs.useful)
    if useful < FEWEST_USEFUL:
        return
    over = [run for run in all_runs(part.signs) if run[2] > part.runs.most]
    if over:
        first, last, length = over[-1]
        inside = [int(judged[i]) for i in range(first, last + 1)]
        rest = [int(i) for i in judged if int(i) not in inside]
        side = "above" if part.signs[first] > 0 else "below"
        yield _signal(
            chart, part, "run", side, chart.labels[place[first]], chart.labels[place[last]], length,
            run_tail(useful, length),
            {"most": int(part.runs.most), **_counts(chart, inside), **_counts(chart, rest, "other_")},
        )  # fmt: skip
    if part.runs.cross:
        crossings = int(part.runs.crossings)
        yield _signal(
            chart, part, "crossings", "", chart.labels[place[0]], chart.labels[place[-1]], len(judged),
            crossing_tail(useful, crossings),
            {"crossings": crossings, "fewest": int(part.runs.fewest), "useful": useful},
        )  # fmt: skip


def _clusters(chart: Chart, part: Judged):
    """On g and t charts, the latest 3 months that hold more than the baseline allows."""
    if chart.kind not in ("g", "t"):
        return
    base, judged = (np.flatnonzero(np.isin(chart.months, of)) for of in (part.base, part.months))
    events = rarer(chart)
    at, tails = clusters(events, chart.cases, base, judged)
    hits = np.flatnonzero(tails < LOW_TAIL)
    if not len(hits):
        return
    last = hits[-1]
    inside = at[max(0, last - RECENT + 1) : last + 1]
    yield _signal(
        chart, part, "cluster", "above", chart.months[inside[0]], chart.months[inside[-1]], len(inside),
        min(1.0, float(tails[last]) * len(at)),
        {"numerator": float(events[inside].sum()), "denominator": float(chart.cases[inside].sum()),
         "other_numerator": float(events[base].sum()), "other_denominator": float(chart.cases[base].sum())},
    )  # fmt: skip


def _steps(chart: Chart):
    values = chart.values[chart.place]
    for month, old, new in steps(chart):
        difference, error, z = step_z(chart.kind, values, chart.events, chart.cases, old, new)
        if abs(z) <= STEP_Z:
            continue
        low, high = float(difference - 1.959964 * error), float(difference + 1.959964 * error)
        if chart.kind == "p":
            counts = [chart.events[new].sum(), chart.cases[new].sum(), chart.events[old].sum(), chart.cases[old].sum()]
            _, low, high = newcombe(*counts)
        names = [change.name for change in chart.changes if change.first_month == month]
        side = "above" if z > 0 else "below"
        yield _signal(
            chart, chart.spans[-1], "change", side, chart.months[new[0]], chart.months[new[-1]], len(new),
            erfc(abs(float(z)) / sqrt(2)),
            {"change": " and ".join(names), "difference": float(difference), "difference_low": low,
             "difference_high": high, "before_points": len(old), **_counts(chart, new),
             **_counts(chart, old, "other_")},
        )  # fmt: skip


def _signal(
    chart: Chart, part: Judged, rule: str, side: str, since: str, until: str, points: int, strength: float, parts: dict
) -> Signal:
    series = chart.series
    if chart.kind in ("g", "t"):
        parts = {"gap": "cases" if chart.kind == "g" else series.unit, **parts}
    if rule == "cluster" or chart.kind in ("g", "t"):
        look = f"the cases that have it from {since} on"
    elif rule == "limits" and series.kind == "share":
        look = f"the cases of {until} that have it" if side == "above" else f"what was different in {until}"
    elif rule == "crossings":
        look = "what came and went over these months: staff, equipment, the mix of cases, how it was charted"
    else:
        look = f"what else began about {since}: staff, equipment, the mix of cases, how it was charted"
    return Signal(
        series.measure, series.by, series.level, chart.kind, rule, side, since, until, points, float(strength),
        until >= chart.recent_from, look,
        {"kind": series.kind, "unit": series.unit, "turned": turned(chart), "middle": part.middle,
         "centre": float(part.limits.centre),
         "base_months": len(part.base), "base_from": part.base[0], "base_to": part.base[-1], **parts},
    )  # fmt: skip


def _counts(chart: Chart, points: list[int], prefix: str = "") -> dict:
    """Events and cases summed, or values averaged, over judged points; a gap is its own number."""
    if not len(points):
        return {}
    value = float(np.mean(chart.values[chart.place[points]]))
    if chart.kind in ("individuals", "g", "t"):
        return {f"{prefix}value": value}
    events, cases = float(chart.events[points].sum()), float(chart.cases[points].sum())
    return {f"{prefix}numerator": events, f"{prefix}denominator": cases, f"{prefix}value": events / cases}


def _tail(chart: Chart, part: Judged, point: int) -> float:
    """Probability of a point as far from the centre or farther, both sides [fraction].

    p: exact binomial, u: exact Poisson, twice the smaller tail; p': normal; individuals: Student's t with
    0.62 (m - 1) degrees of freedom, what a mean moving range of m values is worth; g, t: their own law.
    """
    value = chart.values[chart.place[point]]
    centre, sigma = float(part.limits.centre), float(part.limits.sigma[point])
    if chart.kind == "g":
        return min(1.0, 2 * (1 - part.rate) ** value) if value > part.middle else 2 * part.rate
    if chart.kind == "t":
        longer = float(np.exp(-value / part.rate))
        return min(1.0, 2 * min(longer, 1 - longer))
    if chart.kind in ("p", "u") and laney_is_off(chart, part):
        law = (binom, chart.cases[point], centre) if chart.kind == "p" else (poisson, centre * chart.cases[point])
        count = round(chart.events[point])
        return min(1.0, 2 * float(min(law[0].cdf(count, *law[1:]), law[0].sf(count - 1, *law[1:]))))
    if not sigma:
        return 0.0
    z = abs(value - centre) / sigma
    if chart.kind == "individuals":
        return 2 * float(stdtr(0.62 * (len(part.base) - 1), -z))
    return erfc(z / sqrt(2))


def laney_is_off(chart: Chart, part: Judged) -> bool:
    """Whether the limits of this part are those of chance alone."""
    return chart.kind == "u" or float(laney_factor(chart.events, chart.cases, part.span.base)) == 1
