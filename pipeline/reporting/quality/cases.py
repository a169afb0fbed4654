"""Who came: cases a month, and the mix by ASA class, species and procedure."""

from pipeline.figures.months import sticks
from pipeline.figures.rates import rates
from pipeline.reporting.cells import raw
from pipeline.reporting.display import first_upper, listing, month_name, words
from pipeline.reporting.frame import Cell, Column, Figure, Grid, Section, Table
from pipeline.reporting.review import FEW, SHOWN_MONTHS, YEAR, Review, level_words

FIELDS = ("asa_class", "species", "weight_band", "emergency", "procedure_group", "ventilation", "agent",
          "breathing_system", "machine_id", "supervisor")  # fmt: skip
MIX = ("asa_class", "species", "procedure_group", "agent")


def section(review: Review) -> Section:
    figures = [mix(review, by) for by in MIX]
    return Section(
        "cases",
        "Cases and mix",
        "Who did we anesthetize, and is it the same mix as before?",
        [by_month(review), size(review), Grid([figure for figure in figures if figure]), unwritten(review)],
    )


def by_month(review: Review) -> Figure:
    every = review.results.series("complication")
    series = every[-SHOWN_MONTHS:]
    now = review.results.row("complication")
    year = review.results.row("complication", review.results.year)
    before = review.results.row("complication", review.results.before())
    count = review.counted
    finding = f"{count(now.n)} anesthetics in {review.month}"
    if before:
        finding += f", after {count(before.n)} in {month_name(before.period)}"
    finding += f"; {count(year.n)} in the 12 months"
    table = Table("cases-by-month-table", "Anesthetics with a known start, by month",
                  [Column("Month", "month"), Column("Cases", "count"), Column("Complete", "text")],
                  [[row.period, row.n, "no" if row.partial else "yes"] for row in series])  # fmt: skip
    drawing = sticks(
        [row.period for row in series],
        [row.n for row in series],
        "cases",
        partial=[row.partial for row in series],
        marked=review.results.month,
    )
    caption = "Diamond: the month under review. Hollow: months that are not complete."
    caption += f" The last {len(series)} of {len(every)} months." if len(every) > len(series) else ""
    return Figure("cases-by-month", finding, drawing, table, caption, "periods")


def size(review: Review) -> Table:
    """Hours, lengths and emergencies of the month beside the 12 months."""
    results = review.results
    rows = []
    for label, period in ((YEAR, results.year), (review.short, results.month)):
        length, q1, q3, hours = (results.row(name, period) for name in (
            "anesthesia_minutes", "anesthesia_minutes_q1", "anesthesia_minutes_q3", "anesthesia_hours"))  # fmt: skip
        urgent = results.row("complication", period, "emergency", "yes")
        rows.append([label, hours.value if hours else None, length.value if length else None,
                     (q1.value, q3.value) if q1 and q3 else None, length.not_assessable if length else None,
                     Cell(None, FEW) if urgent and urgent.n is None else urgent.n if urgent else 0])  # fmt: skip
    columns = [
        Column("Period", "nowrap"),
        Column("Hours of anesthesia", "number", digits=0),
        Column("Median length", "minutes", digits=0),
        Column("Middle half", "range", "min", digits=0),
        Column("Length not known", "count"),
        Column("Emergencies", "count"),
    ]
    return Table("size", "Hours and emergencies", columns, rows)


def unwritten(review: Review) -> Table | str:
    """Fields that nobody filled, the emptiest of the month first; a sentence where all are filled."""
    results = review.results
    rows = []
    for by in FIELDS:
        found = [results.row("complication", period, by, "not recorded") for period in (results.year, results.month)]
        counts = [0 if row is None else row.n for row in found]
        if counts != [0, 0]:
            rows.append([first_upper(words(by)), *[Cell(None, FEW) if n is None else n for n in counts]])
    if not rows:
        return f"Filled in for every case: {listing([words(by) for by in FIELDS])}."
    rows.sort(key=lambda row: (-(raw(row[2]) or 0), -(raw(row[1]) or 0), row[0]))
    now, year = results.row("complication"), results.row("complication", results.year)
    note = f"Of {review.counted(year.n)} and {review.counted(now.n)} cases. The records page has every field and rule."
    columns = [Column("Field"), Column(YEAR, "count"), Column(review.short, "count")]
    return Table("unwritten", "Never written down", columns, rows, note)


def mix(review: Review, by: str) -> Figure | None:
    """Share of the cases in each level, the month beside the 12 months."""
    results = review.results
    year, now = results.row("complication", results.year), results.row("complication")
    rows = results.levels("complication", results.year, by)
    if not rows:
        return None
    marks, cells = [], []
    for row in rows:
        month = results.row("complication", None, by, row.level)
        here = month.n if month else 0
        hidden = None in (row.n, here, year.n, now.n)
        marks.append({"label": level_words(by, row.level)} if hidden else
                     {"label": level_words(by, row.level), "value": row.n / year.n, "said": review.display.count(row.n),
                      "month": here / now.n if now.n else None, "month_said": review.display.count(here)})  # fmt: skip
        few = Cell(None, FEW)
        cells.append([level_words(by, row.level), *([few] * 2 if hidden else [row.n, here])])
    unknown = review.counted(next((row.n for row in rows if row.level == "not recorded"), 0))
    caption = f"Dot: 12 months. Diamond: {review.month}. {first_upper(words(by))} "
    caption += "recorded in every case." if unknown == "0" else f"not recorded in {unknown} cases."
    table = Table(
        f"mix-{by.replace('_', '-')}-table",
        f"Cases by {words(by)}",
        [Column(first_upper(words(by))), Column(YEAR, "count"), Column(review.short, "count")],
        cells,
    )
    drawing = rates(marks, "share of cases", "Year", review.short[:3], steps=3)
    id = f"mix-{by.replace('_', '-')}"
    return Figure(id, moved(review, by, marks), drawing, table, caption, "periods", "half")


def moved(review: Review, by: str, marks: list[dict]) -> str:
    """The level whose share of the month lies farthest from its share of the 12 months."""
    known = [mark for mark in marks if mark.get("value") is not None and mark.get("month") is not None]
    if not known:
        return f"{first_upper(words(by))} over 12 months"
    most = max(known, key=lambda mark: abs(mark["month"] - mark["value"]))
    share = review.display.share
    return f"{most['label']}: {share(most['month'], 0)} of {review.short}, {share(most['value'], 0)} of the 12 months"
