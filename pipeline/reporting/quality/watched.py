"""One chart of what changed: how it is drawn, and its signals in words."""

import math
import re
from dataclasses import dataclass

from pipeline.figures.control import control
from pipeline.reporting.display import first_upper, month_name, slug
from pipeline.reporting.frame import Column, Figure, Table
from pipeline.reporting.results import FEWEST_SHOWN
from pipeline.reporting.review import SHOWN_MONTHS, Review

METHOD = {"to_extubation": "recovery", "prolonged_recovery": "recovery", "hypothermia": "temperature",
          "complication": "harm", "death_48h": "harm"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Watched:
    """A chart of the statistics layer, its rows of results and its signals in the order they are told."""

    chart: object
    label: str
    share: bool
    signals: list


def figure(review: Review, one: Watched) -> Figure:
    chart, id = one.chart, place_of(one)
    together = one.signals and one.signals[0].rule == "cluster"
    gaps, share = chart.kind in ("g", "t") and not together, one.share or bool(together)
    points = months_together(one) if together else drawn_points(chart)
    caption, labels, changes, base = chart.why, None, {}, None
    if together:
        caption = (
            "Share by month, as fewer than 1 case is expected in one. Diamonds: 3 months together hold more than the "
            "baseline (thick line on the axis, its share drawn across) allows by Fisher's exact test."
        )
    if len(points) > SHOWN_MONTHS:
        caption += f" The last {SHOWN_MONTHS} of {len(points)} {'gaps' if gaps else 'months'}"
        caption += f"; limits from {listing_of(chart.spans[-1].base)}." if chart.spans else "."
        points = points[-SHOWN_MONTHS:]
    if gaps:
        labels = [month_name(point["month"], short=True) for point in points]
    else:
        place = {point["month"]: number for number, point in enumerate(points)}
        changes = {place[change.first_month]: change.name for change in chart.changes if change.first_month in place}
        if chart.spans and chart.spans[0].base[-1] in place:
            base = (place.get(chart.spans[0].base[0], 0), place[chart.spans[0].base[-1]])
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
