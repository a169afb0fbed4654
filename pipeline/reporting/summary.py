"""The month for e-mail and chat: sentences and plain tables, without script; and the same as text."""

from pathlib import Path

from pipeline.reporting import sheets
from pipeline.reporting.cells import shown
from pipeline.reporting.display import first_upper, words
from pipeline.reporting.frame import CAUTION, Column, Page, Table, environment
from pipeline.reporting.quality.harm import TITLES
from pipeline.reporting.results import no_results
from pipeline.reporting.review import Review, both, review_of

RATES = (
    "complication",
    "death_48h",
    "hypothermia",
    "hypoventilation",
    "hypotension",
    "hypoxemia",
    "prolonged_recovery",
    "charting_gap",
)


def tables(review: Review) -> list[Table]:
    """Rates of the month beside the 12 months, and complications by ASA class."""
    columns = [
        Column(""),
        Column(review.short),
        Column("share", "share"),
        Column("12 months"),
        Column("share", "share"),
    ]
    rates = [
        (first_upper(words(name)), review.results.row(name, review.results.year), review.results.row(name))
        for name in RATES
    ]
    return [
        Table("rates", "Rates", columns, [line(review, *row) for row in rates if row[1] or row[2]]),
        Table("classes", f"{TITLES['complication']} by ASA class", columns,
              [line(review, *row) for row in both(review, "complication", "asa_class")]),
    ]  # fmt: skip


def line(review: Review, label, year, month) -> list:
    said = review.said
    return [label, said(month) if month else None, month.value if month else None, said(year) if year else None,
            year.value if year else None]  # fmt: skip


def sentences(page: Page) -> list[str]:
    return [one if isinstance(one, str) else " ".join([one[0], *one[3:4]]) for one in page.lead]


def write(page: Page, review: Review, folder: Path) -> Path:
    """quality_summary.html: under 100 KB, no script, nothing outside."""
    html = (
        environment(review.settings.display)
        .get_template("summary.html.j2")
        .render(page=page, sentences=sentences(page), tables=tables(review), caution=CAUTION)
    )
    path = folder / "quality_summary.html"
    sheets.replace(path, html.encode("utf-8"))
    return path


def summary_text(db, settings, clinic: Path, month: str | None = None, share: bool = False) -> str:
    """The quality report in sentences and plain tables, for stdout or a message.

    month: 'YYYY-MM', None for the month the results were computed for. Raises UserFault where there are no results.
    """
    from pipeline.reporting.quality import page

    review = review_of(db, settings, clinic, month, share)
    if not review.results.month:
        raise no_results()
    return text(page(review), review)


def text(page: Page, review: Review) -> str:
    """The summary as text, for a terminal or a message."""
    lines = [f"{page.clinic}: {page.title}, {page.period}", ""]
    lines += [f"{number}. {sentence}" for number, sentence in enumerate(sentences(page), 1)]
    for table in tables(review):
        cells = [[column.title for column in table.columns]]
        cells += [[shown(value, column, review.display) for value, column in zip(row, table.columns, strict=True)]
                  for row in table.rows]  # fmt: skip
        widths = [max(len(row[place]) for row in cells) for place in range(len(table.columns))]
        lines += ["", table.title]
        lines += [
            "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in cells
        ]
    return "\n".join([*lines, "", CAUTION, ""])
