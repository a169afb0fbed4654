"""The month in five sentences."""

from pipeline.reporting.display import month_name, words
from pipeline.reporting.review import Review


def sentences(review: Review) -> list:
    """At most five (sentence, '#where it stands') pairs, strongest evidence first."""
    found = []
    for measure, where in (("complication", "#complication-by-class"), ("death_48h", "#death-48h-by-class"),
                           ("hypothermia", "#temperature-rates"), ("hypoventilation", "#ventilation-rates")):  # fmt: skip
        now, year = review.results.row(measure), review.results.row(measure, review.results.year)
        if now is None or year is None:
            continue
        found.append((f"{words(measure).capitalize()}: {review.rate(now)} in {month_name(review.results.month)}, "
                      f"{review.rate(year)} over the 12 months.", where))  # fmt: skip
    return found[:5]
