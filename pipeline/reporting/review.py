"""What the sections of the quality report share: the numbers, the units, the words for periods."""

from dataclasses import dataclass
from pathlib import Path

from pipeline.reporting.display import Display, month_name, words
from pipeline.reporting.frame import Cell, Column, Figure, Table
from pipeline.reporting.results import Results, Row


@dataclass(frozen=True, slots=True)
class Review:
    """One month under review. share: the page leaves the clinic."""

    db: object
    settings: object
    clinic: Path
    results: Results
    display: Display
    share: bool = False

    @property
    def month(self) -> str:
        """The month judged, in words."""
        return month_name(self.results.month)

    @property
    def short(self) -> str:
        """The month judged, for the heading of a narrow column."""
        return month_name(self.results.month, short=True)

    def judged(self, row: Row | None) -> str:
        """How many cases stand behind a row and how many could not be judged, as a sentence part."""
        if row is None or row.denominator is None:
            return "counts withheld" if row and row.withheld else "no case"
        out = f"{self.display.count(row.denominator)} cases judged"
        missing = row.not_assessable
        return f"{out}, {self.display.count(missing)} could not be" if missing else out

    def rate(self, row: Row | None) -> str:
        """'8 of 104 (7.7%)'."""
        if row is None:
            return "no case"
        return f"{row.said} ({self.display.share(row.value)})" if row.value is not None else row.said


RATE_COLUMNS = [
    Column("cases", "count"),
    Column("judged", "count"),
    Column("had it", "count"),
    Column("share", "share"),
    Column("95% interval", "interval"),
]


def rate_cells(row: Row | None) -> list:
    """Cells under RATE_COLUMNS."""
    if row is None:
        return [None] * 5
    if row.withheld:
        return [row.n if row.n else Cell(None, row.said), *[Cell(None, row.said)] * 2, None, None]
    return [row.n, row.denominator, row.numerator, row.value, (row.low, row.high)]


def rate_table(
    id: str, title: str, first: str, rows: list[tuple[str, Row | None, Row | None]], review: Review
) -> Table:
    """Groups by 12 months and by month. rows: (label, 12-month row, month row)."""
    columns = [Column(first)]
    for period in ("12 months", review.short):
        columns += [Column(f"{period}: {column.title}", column.kind) for column in RATE_COLUMNS]
    return Table(id, title, columns, [[label, *rate_cells(year), *rate_cells(month)] for label, year, month in rows])


def rate_marks(label: str, year: Row | None, month: Row | None) -> dict:
    """A row of figures.rates.rates: the 12 months as the dot, the month as the diamond."""
    mark = {"label": label}
    if year is not None:
        mark |= {"value": year.value, "low": year.low, "high": year.high, "said": year.said}
    if month is not None:
        mark |= {"month": month.value, "month_low": month.low, "month_high": month.high, "month_said": month.said}
    return mark


def rate_figure(id: str, finding: str, rows: list, review: Review, *, first: str, title: str, caption: str,
                method: str, size: str = "full", published: dict | None = None) -> Figure:  # fmt: skip
    """Dots with intervals for (label, 12-month row, month row), and the table behind them."""
    from pipeline.figures.rates import rates

    marks = [rate_marks(*row) | {"published": (published or {}).get(row[0], ())} for row in rows]
    drawing = rates(marks, title, "12 months", review.short)
    table = rate_table(f"{id}-table", finding, first, rows, review)
    return Figure(id, finding, drawing, table, caption, method, size)


def level_words(by: str, level: str) -> str:
    """A level as a label: '3' of asa_class is 'ASA 3'."""
    return f"ASA {level}" if by == "asa_class" and level.isdigit() else words(level)


def both(review: Review, measure: str, by: str) -> list[tuple[str, Row | None, Row | None]]:
    """(label, 12-month row, month row) of every level that had a case in the 12 months."""
    year = review.results.year
    return [
        (level_words(by, row.level), row, review.results.row(measure, None, by, row.level))
        for row in review.results.levels(measure, year, by)
    ]
