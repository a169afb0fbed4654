"""The month in five sentences: deaths first, then what changed, strongest evidence first."""

from pipeline.reporting.display import first_upper, month_name, words
from pipeline.reporting.quality.change import Watch
from pipeline.reporting.quality.watched import Watched, place_of, signal_words
from pipeline.reporting.results import FEWEST_SHOWN
from pipeline.reporting.review import FEW, Review

ORDER = "Deaths first. Then what changed, strongest evidence first. Last, how much of it chance alone would show."
MOST, MOST_SIGNALS = 5, 3
DEATHS = "death_48h"
SHARES = (("hypothermia", "#temperature-rates"), ("hypoventilation", "#ventilation-rates"),
          ("hypotension", "#circulation-rates"))  # fmt: skip


def sentences(review: Review, watch: Watch) -> list:
    """Five (sentence, '#where it stands', words of the link, evidence), in the order that ORDER states.

    Who came and who died; the strongest signals that reach into the last three months, one a measure; where these
    leave room, the month's complications, what could not be judged, and shares; last, what chance alone would give.
    """
    from pipeline.statistics.sentences import strongest

    writer, rate = writer_of(review), watch.rate
    watched = {id(one.chart): one for one in watch.charts}
    news = [(signal, watched[id(chart)]) for signal, chart in
            strongest((one.chart, one.signals) for one in watch.charts)]  # fmt: skip
    died = next((one for one in watch.charts if one.chart.series.measure == DEATHS), None)
    found = [one for one in [harm(review, died)] if one]
    news = [(signal, one) for signal, one in news if not found or one is not died]
    for signal, one in news[:MOST_SIGNALS]:
        found.append((f"{one.label}: {signal_words(review, signal)}.", f"#{place_of(one)}", "the chart",
                      writer.evidence(signal, rate.charts)))  # fmt: skip
    filling = [complications(review), unjudged(review), *(share_of(review, *one) for one in SHARES)]
    found += [one for one in filling if one][: MOST - 1 - len(found)]
    recent = sum(any(signal.recent for signal in one.signals) for one in watch.charts)
    found.append((f"{recent} of {len(watch.charts)} charts show a signal in the last three months.", "#change",
                  "all of them", writer.chance(rate)))  # fmt: skip
    return found


def writer_of(review: Review):
    """The statistics layer's sentences in this page's words and numbers."""
    from pipeline.statistics.sentences import Writer

    return Writer(review.display, lambda month: month_name(month, short=True), FEWEST_SHOWN if review.share else 0)


def harm(review: Review, died: Watched | None):
    """Who came and who died; died: the chart of deaths."""
    now, year = review.results.row(DEATHS), review.results.row(DEATHS, review.results.year)
    if now is None or year is None or not (now.denominator or now.withheld):
        return None
    cases = review.display.count(now.n) if now.n is not None else FEW
    deaths = (
        FEW
        if now.withheld
        else {0: "no animal", 1: "one animal"}.get(int(now.numerator), f"{now.numerator:.0f} animals")
    )
    evidence = f"In the 12 months: {review.rate(year)}."
    if died and died.chart.spans:
        signal = next((one for one in died.signals if one.recent), None)
        told = f"shows a signal: {signal_words(review, signal)}" if signal else "shows no signal in the last 3 months"
        evidence += f" The chart of deaths {told}."
    return (f"{cases} anesthetics in {review.month}; {deaths} died within 48 h.", "#death-48h-by-class", "deaths",
            evidence)  # fmt: skip


def complications(review: Review):
    now, year = review.results.row("complication"), review.results.row("complication", review.results.year)
    if now is None or year is None or not (now.denominator or now.withheld):
        return None
    return (
        f"A complication was charted in {review.rate(now)} of {review.month}, in {review.rate(year)} of the 12 months.",
        "#complication-by-class",
        "by ASA class",
    )


def share_of(review: Review, measure: str, where: str):
    """A condition's share of the month beside the 12 months."""
    now, year = review.results.row(measure), review.results.row(measure, review.results.year)
    if now is None or year is None or not (now.denominator or now.withheld):
        return None
    return (f"{first_upper(words(measure))} in {review.rate(now)} of {review.month}.", where, "the rates",
            f"In the 12 months: {review.rate(year)}; {review.judged(year)}.")  # fmt: skip


def unjudged(review: Review):
    """The condition that most cases could not be judged for."""
    rows = [review.results.row(measure) for measure in ("hypothermia", "hypotension", "hypoventilation", "hypoxemia")]
    rows = [row for row in rows if row is not None and row.not_assessable and row.n]
    if not rows:
        return None
    worst = max(rows, key=lambda row: row.not_assessable / row.n)
    return (
        f"{first_upper(words(worst.measure))} could not be judged in {worst.not_assessable:.0f} of {worst.n} cases of "
        "the month: what it needs was not charted, or not often enough.",
        "#physiology",
        "what was judged",
    )
