"""How many patients came to harm, by how sick they were."""

from dataclasses import replace

from pipeline.reporting.display import first_upper, listing, words
from pipeline.reporting.frame import Column, Figure, Fold, Section, Table
from pipeline.reporting.review import Review, both, rate_figure, rate_table

MOST_KINDS = 8
TITLES = {"complication": "Complications", "death_48h": "Deaths within 48 h"}


def section(review: Review) -> Section:
    items = [by_class(review, "complication"), kinds(review), by_class(review, "death_48h"), *published_deaths(review)]
    return Section(
        "harm",
        "Harm by ASA class",
        "How many patients came to harm, and how sick were they?",
        [item for item in items if item],
    )


def by_class(review: Review, measure: str) -> Figure | None:
    rows = both(review, measure, "asa_class")
    if not rows:
        return None
    year = review.results.row(measure, review.results.year)
    captions = [
        f"Dot and bar: the 12 months to {review.month} with 95% interval. Diamond: {review.month}.",
        f"12 months: {review.judged(year)}.",
    ]
    return rate_figure(
        f"{measure.replace('_', '-')}-by-class",
        class_finding(review, measure, rows),
        rows,
        review,
        first="ASA class",
        title="cases with a complication" if measure == "complication" else "cases that died within 48 h",
        caption=" ".join(captions),
        method="harm",
    )


def class_finding(review: Review, measure: str, rows: list) -> str:
    """What the rates by class say together: rise, fall or no trend that chance would not give."""
    trend = review.results.row(f"{measure}_asa_trend", review.results.year)
    title, share, p = TITLES[measure], review.display.share, review.display.p
    known = [(label, row) for label, row, _ in rows if row.value is not None and label.startswith("ASA")]
    whole = review.rate(review.results.row(measure, review.results.year))
    if trend is None or trend.value is None or len(known) < 2:
        return f"{title} in 12 months: {whole}"
    (first, low), (last, high) = known[0], known[-1]
    said = f"p {p(trend.value)}" if trend.value < 0.001 else f"p = {p(trend.value)}"
    if trend.value < 0.05:
        way = "rise" if (trend.numerator or 0) > 0 else "fall"
        ends = f"from {share(low.value)} in {first} to {share(high.value)} in {last}"
        return f"{title} {way} with ASA class, {ends}; trend {said}"
    return f"{title}, {whole} in 12 months, show no trend over the ASA classes that chance would not give; {said}"


def kinds(review: Review) -> Figure | None:
    """The kinds of complication charted most often in the 12 months; the table has every one."""
    results = review.results
    found = [
        row
        for (measure, period, by, _), row in results.rows.items()
        if measure.startswith("complication_") and period == results.year and by == "all" and row.unit == "share"
        and (row.withheld or row.numerator)
    ]  # fmt: skip
    if not found:
        return None
    found.sort(key=lambda row: (-(row.numerator or 0), row.measure))
    rows = [
        (first_upper(words(row.measure.removeprefix("complication_"))), row, results.row(row.measure)) for row in found
    ]
    top = [f"{label.lower()} ({review.display.count(row.numerator)})" for label, row, _ in rows[:3] if not row.withheld]
    figure = rate_figure(
        "kinds",
        f"Charted most often in 12 months: {listing(top)}" if top else "Every kind was charted fewer than 5 times",
        rows[:MOST_KINDS],
        review,
        first="Complication",
        title="cases with it",
        caption=f"The {min(MOST_KINDS, len(rows))} most frequent of {len(rows)} kinds; the numbers behind hold all.",
        method="harm",
    )
    return replace(
        figure, table=rate_table("kinds-table", "Charted complications by kind", "Complication", rows, review)
    )


def published_deaths(review: Review) -> list:
    """Published rates with the same window, as a table: their authors judged the cause, we count every death."""
    from pipeline.reporting.published import published

    rows = published(review.db, "death_48h")
    if not rows:
        return []
    columns = [Column("Species"), Column("ASA class"), Column("Cases", "count"), Column("Share", "share", digits=2),
               Column("95% interval", "interval"), Column("How it differs"), Column("Source")]  # fmt: skip
    table = Table(
        "published-deaths",
        "Published deaths within 48 h",
        columns,
        [
            [
                row["species"],
                row["asa_class"],
                row["cases"],
                row["val"],
                (row["low"], row["high"]),
                row["differs"],
                row["source"],
            ]
            for row in rows
        ],
        "Same window of 48 h. The authors counted deaths to which anesthesia contributed, this page counts every "
        "death, so the published rates are the lower ones by definition.",
    )
    return [Fold("Published rates with the same window", [table])]
