"""The month in five sentences, strongest evidence first."""

from pipeline.reporting.display import first_upper, month_name, slug, words
from pipeline.reporting.quality.change import Watch, Watched, signal_words
from pipeline.reporting.results import FEWEST_SHOWN
from pipeline.reporting.review import FEW, Review

MOST, MOST_SIGNALS = 5, 3
SHARES = (("hypothermia", "#temperature-rates"), ("hypoventilation", "#ventilation-rates"),
          ("hypotension", "#circulation-rates"))  # fmt: skip


def sentences(review: Review, watch: Watch) -> list:
    """Five (sentence, '#where it stands', words of the link, evidence).

    Who came and who died; the strongest signals that reach into the last three months, one a measure; where these leave
    room, the month's complications and what could not be judged; last, how many signals chance alone would give.
    """
    writer = writer_of(review)
    recent = [(next(signal for signal in one.signals if signal.recent), one) for one in watch.charts
              if any(signal.recent for signal in one.signals)]  # fmt: skip
    rate = watch.rate
    found = [harm(review)]
    for signal, one in foremost(recent)[:MOST_SIGNALS]:
        evidence = first_upper(writer.signal(signal, rate.charts).partition(": ")[2])
        found.append((f"{one.label}: {signal_words(review, signal)}.", f"#{place_of(one)}", "the chart", evidence))
    filling = [complications(review), unjudged(review), *(share_of(review, *one) for one in SHARES)]
    found += [one for one in filling if one][: MOST - 1 - len(found)]
    found += [
        (
            f"{len(recent)} of {len(watch.charts)} charts show a signal in the last three months.",
            "#change",
            "all of them",
            writer.tally(len(recent), rate),
        )
    ]
    return [one for one in found if one]


def foremost(recent: list[tuple]) -> list[tuple]:
    """One (signal, chart) a measure, strongest first; a machine's own chart, which says where, before that of all."""
    kept: dict[str, tuple] = {}
    for signal, one in sorted(
        recent, key=lambda pair: (pair[1].chart.series.by == "all", pair[0].strength, pair[1].label)
    ):
        kept.setdefault(one.chart.series.measure, (signal, one))
    return sorted(kept.values(), key=lambda pair: (pair[0].strength, pair[1].label))


def writer_of(review: Review):
    """The statistics layer's sentences in this page's words and numbers."""
    from pipeline.statistics.sentences import Writer

    return Writer(
        review.display,
        name=words,
        month=lambda month: month_name(month, short=True),
        level=lambda by, level: "" if by == "all" else f"machine {level}",
        fewest=FEWEST_SHOWN if review.share else 0,
    )


def place_of(one: Watched) -> str:
    """The id of the chart's figure."""
    series = one.chart.series
    id = f"change-{series.measure.replace('_', '-')}"
    return id if series.by == "all" else f"{id}-{slug(series.level)}"


def harm(review: Review):
    now, year = review.results.row("death_48h"), review.results.row("death_48h", review.results.year)
    if now is None or year is None or not (now.denominator or now.withheld):
        return None
    cases = review.display.count(now.n) if now.n is not None else FEW
    deaths = (
        FEW
        if now.withheld
        else {0: "no animal", 1: "one animal"}.get(int(now.numerator), f"{now.numerator:.0f} animals")
    )
    return (f"{cases} anesthetics in {review.month}; {deaths} died within 48 h.", "#death-48h-by-class", "deaths",
            f"In the 12 months: {review.rate(year)}.")  # fmt: skip


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
