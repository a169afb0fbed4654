"""What the sections of the quality report share: the numbers, the units, the words for periods."""

from dataclasses import dataclass, field
from pathlib import Path

from pipeline.reporting.display import Display, first_upper, month_name, words
from pipeline.reporting.frame import Cell, Column, Figure, Table
from pipeline.reporting.results import FEWEST_SHOWN, Results, Row

YEAR = "12\u00a0months"
SHOWN_MONTHS = 36
"""Months drawn at most; limits and references reach further back."""

FEW = f"fewer than {FEWEST_SHOWN}"


def review_of(db, settings, clinic: Path, month: str | None, share: bool) -> "Review":
    """The review of a month, from the results in a database; None for the month they were computed for."""
    return Review(db, settings, clinic, Results(db, month, share), Display(settings.display), share)


@dataclass(frozen=True, slots=True)
class Review:
    """One month under review. share: the page leaves the clinic; to_keep: tables found on the way, for the database."""

    db: object
    settings: object
    clinic: Path
    results: Results
    display: Display
    share: bool = False
    to_keep: dict = field(default_factory=dict)

    @property
    def month(self) -> str:
        """The month judged, in words."""
        return month_name(self.results.month)

    @property
    def short(self) -> str:
        """The month judged, for the heading of a narrow column."""
        return month_name(self.results.month, short=True)

    def counted(self, n: int | None) -> str:
        """A number of cases, or that it is too small to show."""
        return FEW if n is None else self.display.count(n)

    def judged(self, row: Row | None) -> str:
        """How many cases stand behind a row and how many could not be judged, as a sentence part."""
        if row is None or row.denominator is None:
            return "counts withheld" if row and row.withheld else "no case"
        out = f"{self.display.count(row.denominator)} cases judged"
        missing = row.not_assessable
        return f"{out}, {self.display.count(missing)} could not be" if missing else out

    def said(self, row: Row) -> str:
        """'7 of 1,549', 'fewer than 5', or 'none judged' where no case could be."""
        if row.withheld:
            return FEW
        count = self.display.count
        return f"{count(row.numerator)} of {count(row.denominator)}" if row.denominator else "none judged"

    def rate(self, row: Row | None) -> str:
        """'8 of 104 (7.7%)'."""
        if row is None:
            return "no case"
        said = self.said(row)
        return f"{said} ({self.display.share(row.value)})" if row.value is not None else said


def rate_table(
    id: str, title: str, first: str, rows: list[tuple[str, Row | None, Row | None]], review: Review
) -> Table:
    """Groups by period, a line each. rows: (label, 12-month row, month row)."""
    columns = [
        Column(first),
        Column("Period", "nowrap"),
        Column("Judged", "count"),
        Column("Could not be judged", "count"),
        Column("Had it", "count"),
        Column("Share", "share"),
        Column("95% interval", "interval"),
    ]
    cells = [[label, period, *rate_cells(row)] for label, *both in rows
             for period, row in zip((YEAR, review.short), both, strict=True) if row is not None]  # fmt: skip
    return Table(id, title, columns, cells)


def rate_cells(row: Row) -> list:
    """Judged, not judged, had it, share, interval."""
    if row.withheld:
        return [Cell(None, FEW)] * 3 + [None, None]
    return [row.denominator, row.not_assessable, row.numerator, row.value, (row.low, row.high)]


def rate_marks(review: Review, label: str, year: Row | None, month: Row | None) -> dict:
    """A row of figures.rates.rates: the 12 months as the dot, the month as the diamond."""
    mark = {"label": label}
    if year is not None:
        mark |= {"value": year.value, "low": year.low, "high": year.high, "said": review.said(year)}
    if month is not None:
        mark |= {
            "month": month.value,
            "month_low": month.low,
            "month_high": month.high,
            "month_said": review.said(month),
        }
    return mark


def rate_figure(id: str, finding: str, rows: list, review: Review, *, first: str, title: str, caption: str,
                method: str, size: str = "full", published: dict | None = None) -> Figure:  # fmt: skip
    """Dots with intervals for (label, 12-month row, month row), and the table behind them."""
    from pipeline.figures.rates import rates

    marks = [rate_marks(review, *row) | {"published": (published or {}).get(row[0], ())} for row in rows]
    drawing = rates(marks, title, YEAR, review.short)
    table = rate_table(f"{id}-table", finding, first, rows, review)
    return Figure(id, finding, drawing, table, caption, method, size)


def level_words(by: str, level: str) -> str:
    """A level as a label: '3' of asa_class is 'ASA 3'."""
    return f"ASA {level}" if by == "asa_class" and level.isdigit() else first_upper(words(level))


def both(review: Review, measure: str, by: str) -> list[tuple[str, Row | None, Row | None]]:
    """(label, 12-month row, month row) of every level that had a case in the 12 months."""
    year = review.results.year
    return [
        (level_words(by, row.level), row, review.results.row(measure, None, by, row.level))
        for row in review.results.levels(measure, year, by)
    ]
