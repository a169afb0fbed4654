"""What changed: a control chart a measure, the rule that fired, and how often this page would fire by chance."""

import math
import re
from dataclasses import dataclass
from functools import cache

import numpy as np

from pipeline.figures.control import control
from pipeline.reporting.display import first_upper, listing, month_name, month_number, month_text, slug, words
from pipeline.reporting.frame import Column, Figure, Grid, Section, Table
from pipeline.reporting.queries import frame
from pipeline.reporting.results import BY_MACHINE, FEWEST_SHOWN
from pipeline.reporting.review import SHOWN_MONTHS, Review

# measure, kind; those by machine are judged like the others and drawn only where a rule fired.
DRAWN = (
    ("complication", "share"), ("death_48h", "share"), ("hypothermia", "share"), ("hypoventilation", "share"),
    ("hypotension", "share"), ("hypoxemia", "share"), ("rebreathing", "share"), ("prolonged_recovery", "share"),
    ("to_extubation", "value"), ("charting_gap", "share"), ("absorbent_overdue", "share"),
)  # fmt: skip
METHOD = {"to_extubation": "recovery", "prolonged_recovery": "recovery", "hypothermia": "temperature",
          "complication": "harm", "death_48h": "harm"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Watched:
    """A chart of the statistics layer, its rows of results and its signals in the order they are told."""

    chart: object
    label: str
    share: bool
    signals: list


@dataclass(frozen=True, slots=True)
class Watch:
    """Every chart of the page, and how many signals they give by chance (statistics.false_signals.PageRate)."""

    charts: list[Watched]
    rate: object


def watch(review: Review) -> Watch:
    """Judges every chart of the page."""
    from pipeline.statistics.false_signals import page_rate

    charts = judged(review)
    return Watch(charts, page_rate([one.chart for one in charts]))


def keep(review: Review, watch: Watch) -> None:
    """The table `signals`: what fired, where, since when, how strong, what to look at, in words."""
    from pipeline.statistics.signals import table

    found = sorted(
        (signal for one in watch.charts for signal in one.signals),
        key=lambda signal: (signal.strength, signal.measure, signal.by, signal.level, signal.rule),
    )
    review.to_keep["signals"] = table(
        found, lambda signal: f"{first_upper(words(signal.measure))}: {signal_words(review, signal)}"
    )


def judged(review: Review) -> list[Watched]:
    from pipeline.statistics.charts import chart
    from pipeline.statistics.phases import stated_changes
    from pipeline.statistics.signals import signals

    changes = stated_changes(review.settings.changes)
    wanted = [(measure, kind, "all", "all") for measure, kind in DRAWN]
    for measure in BY_MACHINE:
        wanted += [(measure, "share", "machine_id", row.level)
                   for row in review.results.levels(measure, review.results.year, "machine_id")
                   if row.level != "not recorded"]  # fmt: skip
    found, order = [], cache(lambda measure: in_order(review, measure))
    for measure, kind, by, level in wanted:
        one = series(review, measure, kind, by, level, order)
        if one is None:
            continue
        made = chart(one, changes)
        label = first_upper(words(measure)) + (f", machine {level}" if by == "machine_id" else "")
        found.append(Watched(made, label, kind == "share" and made.kind not in ("g", "t"), to_tell(signals(made))))
    return found


def to_tell(found: list) -> list:
    """Signals of one chart, strongest first; before them 3 recent months together, told in cases, not in gaps."""
    return sorted(found, key=lambda signal: (signal.rule != "cluster" or not signal.recent, signal.strength))


def in_order(review: Review, measure: str):
    """The cases of a measure in time order, a row each, with the month as results writes it."""
    found = frame(review.db, "case_order", measure=measure, first=month_number(judged_months(review)[0]),
                  last=month_number(judged_months(review)[-1]))  # fmt: skip
    numbers, place = np.unique(found["month_no"], return_inverse=True)
    return found.assign(month=np.array([month_text(number) for number in numbers], dtype=object)[place])


def judged_months(review: Review) -> list[str]:
    """The months that a chart holds: the last ones up to the month under review, and what came after it in part."""
    until = [month for month in review.results.months if month <= review.results.month]
    return until[-SHOWN_MONTHS:] + [row.period for row in review.results.series("complication")
                                    if row.partial and row.period > review.results.month]  # fmt: skip


def series(review: Review, measure: str, kind: str, by: str, level: str, order):
    """The months of a measure; order: measure -> its cases in time order, which a chart of rare events needs."""
    from pipeline.statistics.charts import Cases, Series

    first, last = judged_months(review)[0], review.results.month
    months = [row for row in review.results.series(measure, by, level)
              if row.period >= first and (row.period <= last or row.partial)]  # fmt: skip
    if len([row for row in months if row.denominator]) < 2:
        return None
    cases = None
    if kind == "share" and not review.share:
        found = order(measure)
        found = found if by == "all" else found[found[by] == level]
        cases = Cases(found["month"].tolist(), found["has"].tolist())
    return Series(
        measure,
        kind,
        [row.period for row in months],
        [row.value for row in months],
        [not row.partial for row in months],
        [row.numerator for row in months],
        [row.denominator for row in months],
        by,
        level,
        months[0].unit,
        cases,
    )


def section(review: Review, watch: Watch) -> Section | None:
    watched = watch.charts
    if not watched:
        return None
    drawn = [one for one in watched if one.signals or (one.chart.series.by == "all" and any(one.chart.series.value))]
    return Section(
        "change",
        "What changed",
        "Is it getting better or worse, or is it noise?",
        [false_alarms(review, watch), Grid([figure(review, one) for one in drawn]), fired(review, watched)],
    )


def false_alarms(review: Review, watch: Watch) -> str:
    """How many charts show a signal, how many would by chance, and how to read them."""
    rate, watched = watch.rate, watch.charts
    with_signal = sum(1 for one in watched if one.signals)
    number = review.display.number
    return (
        f"{with_signal} of {len(watched)} charts show a signal. If nothing had changed at all, the {rate.charts} "
        f"charts with limits would still show one on {number(rate.expected)} of them on average, on "
        f"{number(rate.expected_recent)} in the last three months. Shaded: where a month lies by chance alone. Large "
        "diamond: a month beyond it. Thick line on the axis: the months the limits come from."
    )


def figure(review: Review, one: Watched) -> Figure:
    chart, id = one.chart, place_of(one)
    together = one.signals and one.signals[0].rule == "cluster"
    gaps, share = chart.kind in ("g", "t") and not together, one.share or bool(together)
    points = months_together(one) if together else drawn_points(chart)
    caption, out, labels, changes, base = chart.why, len(points) - SHOWN_MONTHS, None, {}, None
    if together:
        caption = (
            "Share by month, as fewer than 1 case is expected in one. Diamonds: 3 months together hold more than the "
            "baseline (thick line on the axis, its share drawn across) allows by Fisher's exact test."
        )
    if gaps:
        points = points[max(out, 0) :]
        labels = [month_name(point["month"], short=True) for point in points]
        if out > 0:
            limits = listing_of(chart.spans[-1].base)
            caption += f" The last {len(points)} of {len(points) + out} gaps; limits from {limits}."
    else:
        place = {point["month"]: number for number, point in enumerate(points)}
        changes = {place[change.first_month]: change.name for change in chart.changes if change.first_month in place}
        base = (place[chart.spans[0].base[0]], place[chart.spans[0].base[-1]]) if chart.spans else None
    title = f"{'cases' if chart.kind == 'g' else 'hours'} between two" if gaps else axis_title(chart.series)
    drawing = control(points, title, share=share, changes=changes, labels=labels, baseline=base)
    kind = "share" if share else "number"
    table = Table(f"{id}-table", f"{one.label} by month", [
        Column("Month", "month"), Column("Value", kind), Column("Expected", kind), Column("Lower limit", kind),
        Column("Upper limit", kind), Column("Note")],
        [[p["month"], p["value"], p["centre"], p["low"], p["high"], p["signal"] or ("open" if gaps else "partial") *
          p["partial"]] for p in points])  # fmt: skip
    return Figure(id, finding(review, one), drawing, table, caption, METHOD.get(chart.series.measure, "change"), "half")


def place_of(one: Watched) -> str:
    """The id of the chart's figure."""
    series_ = one.chart.series
    id = f"change-{series_.measure.replace('_', '-')}"
    return id if series_.by == "all" else f"{id}-{slug(series_.level)}"


def drawn_points(chart) -> list[dict]:
    """The points of a chart with their limits, as figures.control takes them."""
    columns = ([None if math.isnan(number) else float(number) for number in column]
               for column in (chart.values, chart.centre, chart.low, chart.high))  # fmt: skip
    return [
        {"month": month, "value": value, "centre": centre, "low": low, "high": high, "partial": bool(hollow),
         "signal": ("", "above", "below")[int(side)]}
        for month, hollow, side, value, centre, low, high in zip(chart.labels, chart.hollow, chart.side, *columns,
                                                                 strict=True)
    ]  # fmt: skip


def months_together(one: Watched) -> list[dict]:
    """The months of a chart of gaps whose strongest signal is of 3 months together: the gaps would not show it."""
    signal, series_ = one.signals[0], one.chart.series
    before = signal.parts["other_numerator"] / signal.parts["other_denominator"]
    return [
        {"month": month, "value": value, "centre": 1 - before if signal.parts["turned"] else before, "low": None,
         "high": None, "partial": not complete,
         "signal": "3 months together" if complete and signal.since <= month <= signal.until else ""}
        for month, value, complete in zip(series_.months, series_.value, series_.complete, strict=True)
    ]  # fmt: skip


def listing_of(months: list[str]) -> str:
    """'Nov 2024 to Oct 2025'."""
    return f"{month_name(months[0], short=True)} to {month_name(months[-1], short=True)}"


def axis_title(series_) -> str:
    return "median, min" if series_.kind == "value" else "share of cases judged"


def finding(review: Review, one: Watched) -> str:
    if one.signals:
        return f"{one.label}: {signal_words(review, one.signals[0])}"
    if not one.chart.spans:
        return f"{one.label}: no limits yet"
    return f"{one.label}: nothing that chance would not give"


def signal_words(review: Review, signal) -> str:
    """A signal as part of a sentence."""
    since, until = month_name(signal.since, short=True), month_name(signal.until, short=True)
    when = since if since == until else f"{since} to {until}"
    parts, share = signal.parts, signal.parts.get("kind") == "share"
    say = review.display.share if share else lambda value: review.display.number(value)
    small = [parts[name] for name in ("numerator", "other_numerator") if name in parts]
    if review.share and any(count < FEWEST_SHOWN for count in small):
        return f"a signal, {when}"
    match signal.rule:
        case "limits" if "gap" in parts:
            gap = review.display.number(parts["value"], 0)
            return f"{gap} {parts['gap']} to the one in {until}, {signal.side} the limits"
        case "limits":
            others = f", one of {signal.points} such months" if signal.points > 1 else ""
            return f"{say(parts['value'])} in {until}, {signal.side} the limits{others}"
        case "run" if "gap" in parts:
            sooner = "later" if signal.side == "above" else "sooner"
            return f"{signal.points} times in a row the next one came {sooner} than usual, {when}"
        case "run":
            return f"{signal.points} months in a row {signal.side} the middle, {when}"
        case "crossings":
            return f"moves too slowly for chance, {parts['crossings']} crossings of the middle"
        case "cluster":
            count, without = review.display.count, " without it" if parts["turned"] else ""
            return (
                f"{count(parts['numerator'])} of {count(parts['denominator'])} cases{without} in {when}, against "
                f"{count(parts['other_numerator'])} of {count(parts['other_denominator'])} before"
            )
        case "change":
            way = "up" if signal.side == "above" else "down"
            return f"{way} from {say(parts['other_value'])} to {say(parts['value'])} since {parts['change']}"
    return signal.rule


def look(signal) -> str:
    """What to look at, months in words."""
    return first_upper(re.sub(r"\d{4}-\d{2}", lambda found: month_name(found[0], short=True), signal.look))


def fired(review: Review, watched: list[Watched]) -> Table:
    """Every signal, strongest first, with the rule and what to look at."""
    found = sorted(((signal, one) for one in watched for signal in one.signals),
                   key=lambda pair: (not pair[0].recent, pair[0].strength, pair[1].label))  # fmt: skip
    rows_ = [[one.label, first_upper(signal_words(review, signal)), signal.strength,
              "yes" if signal.recent else "no", look(signal)] for signal, one in found]  # fmt: skip
    quiet = [one.label for one in watched if not one.signals]
    return Table(
        "signals",
        "Signals",
        [
            Column("Measure"),
            Column("What fired"),
            Column("By chance", "p"),
            Column("In the last 3 months"),
            Column("Look at"),
        ],
        rows_,
        f"By chance: how likely one such chart shows this much without any change. No signal: {listing(quiet)}."
        if quiet
        else "",
    )
