"""Who came: cases a month, and the mix by ASA class, species and procedure."""

from pipeline.figures.months import sticks
from pipeline.figures.rates import rates
from pipeline.reporting.display import first_upper, month_name, words
from pipeline.reporting.frame import Cell, Column, Figure, Grid, Section, Table
from pipeline.reporting.review import FEW, YEAR, Review, level_words

MIX = ("asa_class", "species", "procedure_group", "agent")


def section(review: Review) -> Section:
    figures = [mix(review, by) for by in MIX]
    return Section(
        "cases",
        "Cases and mix",
        "Who did we anesthetize, and is it the same mix as before?",
        [by_month(review), Grid([figure for figure in figures if figure])],
    )


def by_month(review: Review) -> Figure:
    series = review.results.series("complication")
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
    return Figure("cases-by-month", finding, drawing, table, caption, "periods")


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
    most = max((row for row in rows if row.level != "not recorded"), key=lambda row: row.n or 0, default=rows[0])
    finding = f"{level_words(by, most.level)} is the largest group by {words(by)}: "
    finding += f"{review.counted(most.n)} of {review.counted(year.n)}"
    caption = f"Dot: 12 months. Diamond: {review.month}. "
    caption += f"{first_upper(words(by))} not recorded in {unknown} cases."
    table = Table(
        f"mix-{by.replace('_', '-')}-table",
        f"Cases by {words(by)}",
        [Column(first_upper(words(by))), Column(YEAR, "count"), Column(review.short, "count")],
        cells,
    )
    drawing = rates(marks, "share of cases", "Year", review.short[:3])
    return Figure(f"mix-{by.replace('_', '-')}", finding, drawing, table, caption, "periods", "half")
