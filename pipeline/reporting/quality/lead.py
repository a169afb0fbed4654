"""The month in five sentences, strongest evidence first."""

from pipeline.reporting.display import month_name, words
from pipeline.reporting.quality.change import Watched, signal_words
from pipeline.reporting.review import Review

MOST = 5


def sentences(review: Review, watched: list[Watched]) -> list:
    """At most five (sentence, '#where it stands', words of the link).

    First who died, then the strongest signals that reach into the last three months, then the month's complications and
    what the record leaves open, until there are five.
    """
    recent = sorted(((signal, one) for one in watched for signal in one.signals[:1] if signal.recent),
                    key=lambda pair: (pair[0].strength, pair[1].label))  # fmt: skip
    found = [harm(review)]
    found += [moved(review, signal, one) for signal, one in recent[: MOST - 3]]
    found += [rate(review, "complication", "#complication-by-class"), unjudged(review)]
    found += [rate(review, measure, where) for measure, where in
              (("hypothermia", "#temperature-rates"), ("hypotension", "#circulation-rates"))]  # fmt: skip
    return [one for one in found if one][:MOST]


def harm(review: Review):
    now, year = review.results.row("death_48h"), review.results.row("death_48h", review.results.year)
    if now is None or year is None:
        return None
    cases = review.display.count(now.n) if now.n is not None else "fewer than 5"
    if now.withheld:
        deaths = "fewer than 5 animals"
    elif not now.denominator:
        return None
    else:
        deaths = {0: "no animal", 1: "one animal"}.get(int(now.numerator), f"{now.numerator:.0f} animals")
    return (f"{cases} anesthetics in {review.month}; {deaths} died within 48 h. In the 12 months: {review.rate(year)}.",
            "#death-48h-by-class", "deaths")  # fmt: skip


def moved(review: Review, signal, one: Watched):
    where = "change-" + one.chart.series.measure.replace("_", "-")
    if one.chart.series.by != "all":
        where += "-" + "".join(c if c.isalnum() else "-" for c in one.chart.series.level.lower())[:20]
    return f"{one.label}: {signal_words(review, signal)}. Look at {signal.look}.", f"#{where}", "the chart"


def rate(review: Review, measure: str, where: str):
    now, year = review.results.row(measure), review.results.row(measure, review.results.year)
    if now is None or year is None or not (now.denominator or now.withheld):
        return None
    return (f"{words(measure).capitalize()}: {review.rate(now)} in {month_name(review.results.month)}, "
            f"{review.rate(year)} in the 12 months.", where, "by group")  # fmt: skip


def unjudged(review: Review):
    """The commonest condition that could not be judged for want of a record."""
    rows = [review.results.row(measure) for measure in ("hypothermia", "hypotension", "hypoventilation", "hypoxemia")]
    rows = [row for row in rows if row is not None and row.not_assessable and row.n]
    if not rows:
        return None
    worst = max(rows, key=lambda row: row.not_assessable / row.n)
    return (f"{words(worst.measure).capitalize()} could not be judged in {worst.not_assessable:.0f} of {worst.n} cases of the "
            "month: the reading it needs was not charted often enough.", "#physiology", "what was judged")  # fmt: skip
