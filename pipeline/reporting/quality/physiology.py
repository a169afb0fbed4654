"""Ventilation, oxygenation, circulation and temperature: how often, how long, how deep."""

from pipeline.reporting.display import first_upper, words
from pipeline.reporting.frame import Column, Figure, Fold, Section, Table
from pipeline.reporting.published import published
from pipeline.reporting.quality import course
from pipeline.reporting.review import YEAR, Review, rate_figure

GROUPS = {
    "Ventilation": ("hypoventilation", "severe_hypoventilation", "hyperventilation", "no_co2", "rebreathing"),
    "Oxygenation": ("hypoxemia", "severe_hypoxemia"),
    "Circulation": ("hypotension", "bradycardia", "tachycardia"),
    "Temperature": ("hypothermia_any", "hypothermia", "hypothermia_severe", "hyperthermia"),
}
DEPTHS = (
    "hypoventilation",
    "hyperventilation",
    "rebreathing",
    "hypoxemia",
    "hypotension",
    "bradycardia",
    "tachycardia",
)
HEADLINES = {"Ventilation": "hypoventilation", "Oxygenation": "hypoxemia", "Circulation": "hypotension",
             "Temperature": "hypothermia"}  # fmt: skip


def section(review: Review) -> Section:
    figures = [group(review, name, measures) for name, measures in GROUPS.items()]
    items = [
        *figures,
        minutes(review),
        *(course.ribbons(review, *one) for one in course.RIBBONS),
        course.coldest(review),
        course.time_of_day(review),
        comparable(review),
    ]
    return Section(
        "physiology",
        "What the monitors showed",
        "How often did breathing, oxygen, circulation or temperature leave its limits, for how long, how far?",
        [item for item in items if item],
    )


def group(review: Review, name: str, measures: tuple[str, ...]) -> Figure | None:
    results = review.results
    rows = [
        (first_upper(words(measure)), results.row(measure, results.year), results.row(measure)) for measure in measures
    ]
    rows = [row for row in rows if row[1] is not None or row[2] is not None]
    if not rows:
        return None
    main = results.row(HEADLINES[name], results.year)
    now = results.row(HEADLINES[name])
    finding = f"{first_upper(words(HEADLINES[name]))} in {review.rate(main)} over 12 months"
    finding += f"; {review.short}: {review.rate(now)}"
    return rate_figure(
        f"{name.lower()}-rates",
        finding,
        rows,
        review,
        first=name,
        title="cases that had it",
        caption=f"{name}. 12 months: {review.judged(main)}. Dot with 95% interval: 12 months. Diamond: {review.month}.",
        method="limits" if name != "Temperature" else "temperature",
    )


def minutes(review: Review) -> Table | None:
    """Minutes beyond a limit, their share of the observed time, and the area, for 12 months and the month."""
    results, rows = review.results, []
    for measure in DEPTHS:
        for period, label in ((results.year, YEAR), (results.month, review.short)):
            middle = results.row(f"{measure}_minutes", period)
            if middle is None:
                continue
            q1, q3, time, area = (results.row(f"{measure}_{name}", period) for name in
                                  ("minutes_q1", "minutes_q3", "time_share", "area"))  # fmt: skip
            rows.append([
                first_upper(words(measure)), label, middle.denominator, middle.not_assessable, middle.value,
                (q1.value, q3.value) if q1 and q1.value is not None else None,
                time.value if time else None, area.value if area else None,
            ])  # fmt: skip
    if not rows:
        return None
    columns = [
        Column("Beyond the limit"),
        Column("Period", "nowrap"),
        Column("Judged", "count"),
        Column("Could not be judged", "count"),
        Column("Median", "minutes"),
        Column("Middle half", "range", "min", digits=0),
        Column("Share of observed time", "share"),
        Column("Median area", "number", "unit × min"),
    ]
    note = "Medians over all judged cases, those without such a minute counted as 0. Area: how far, times how long."
    flat = [place for place in (4, 7) if not any(row[place] for row in rows)]
    if flat:
        note = "Over all judged cases, those without such a minute counted as 0. Medians left out are 0 throughout, as "
        note += "fewer than half of the cases had any."
        keep = [place for place in range(len(columns)) if place not in flat]
        columns, rows = [columns[place] for place in keep], [[row[place] for place in keep] for row in rows]
    return Table("minutes-beyond", "How long and how far beyond the limits", columns, rows, note)


def comparable(review: Review) -> Fold | None:
    """Our hypothermia at the end of the anesthetic beside the study that defined the bands."""
    rows = []
    for measure in ("hypothermia_any_at_end", "hypothermia_at_end"):
        for theirs in published(review.db, measure):
            ours = review.results.row(measure, review.results.year, "species", theirs["species"])
            if ours is not None:
                rows.append([
                    first_upper(words(measure)), theirs["species"], ours.denominator, ours.value, (ours.low, ours.high),
                    theirs["cases"], theirs["val"], theirs["source"],
                ])  # fmt: skip
    if not rows:
        return None
    columns = [Column("At the end of the anesthetic"), Column("Species"), Column("Judged here", "count"),
               Column("Share here", "share"), Column("95% interval", "interval"), Column("Published cases", "count"),
               Column("Published share", "share"), Column("Source")]  # fmt: skip
    note = "The same bands and the same reading (the last one of the anesthetic), so these can be compared."
    table = Table("hypothermia-published", "Hypothermia at the end, beside published rates", columns, rows, note)
    return Fold("Published rates with the same definition", [table])
