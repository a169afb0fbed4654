"""What changed: a control chart a measure, the rule that fired, and how often this page would fire by chance."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from pipeline.reporting.display import first_upper, listing, month_number, month_text, words
from pipeline.reporting.frame import Column, Grid, Section, Table
from pipeline.reporting.quality.watched import Watched, figure, look, signal_words
from pipeline.reporting.queries import frame
from pipeline.reporting.results import BY_MACHINE
from pipeline.reporting.review import Review

# measure, kind; those by machine are judged like the others and drawn only where a rule fired.
DRAWN = (
    ("complication", "share"), ("death_48h", "share"), ("hypothermia", "share"), ("hypoventilation", "share"),
    ("hypotension", "share"), ("hypoxemia", "share"), ("rebreathing", "share"), ("prolonged_recovery", "share"),
    ("to_extubation", "value"), ("charting_gap", "share"), ("absorbent_overdue", "share"),
)  # fmt: skip


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
    found, order = [], cache(lambda measure: by_machine(in_order(review, measure)))
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


def by_machine(found) -> dict:
    """The cases of all machines together and of each one."""
    return {("all", "all"): found} | {("machine_id", level): own for level, own in found.groupby("machine_id")}


def judged_months(review: Review) -> list[str]:
    """The months that a chart judges: all up to the month under review, and what came after it in part."""
    until = [month for month in review.results.months if month <= review.results.month]
    return until + [row.period for row in review.results.series("complication")
                    if row.partial and row.period > review.results.month]  # fmt: skip


def series(review: Review, measure: str, kind: str, by: str, level: str, order):
    """The months of a measure; order: measure -> its cases in time order by group, for charts of rare events."""
    from pipeline.statistics.charts import Cases, Series

    first, last = judged_months(review)[0], review.results.month
    months = [row for row in review.results.series(measure, by, level)
              if row.period >= first and (row.period <= last or row.partial)]  # fmt: skip
    if len([row for row in months if row.denominator]) < 2:
        return None
    cases = None
    if kind == "share" and not review.share:
        groups = order(measure)
        found = groups.get((by, level), groups["all", "all"][:0])
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
