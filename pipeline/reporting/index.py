"""The index: which pages there are and what each answers."""

from pathlib import Path

from pipeline.reporting.frame import Cell, Column, Page, Section, Table
from pipeline.reporting.review import Review

ANSWERS = {
    "quality": ("Quality rounds", "How many patients came to harm, what changed, which cases to discuss."),
    "cases": ("Cases to discuss", "The cases the rules put forward, each drawn whole."),
    "quality_summary": ("Summary", "The same in sentences and plain tables, to send by e-mail or chat."),
    "stock": ("Stock and orders", "What was used, when it runs out, what to order; the controlled-drug books."),
    "training": ("Training", "What each trainee has done, under whose supervision, and what is missing."),
    "records": ("Records", "Whether the records are complete and plausible enough for any of it."),
}


def index_page(review: Review, folder: Path) -> Page:
    """The pages that stand in the folder now, in the order they are read."""
    there = [name for name in ANSWERS if (folder / f"{name}.html").exists()]
    rows = [
        [
            Cell(name, ANSWERS[name][0], f"{name}.html"),
            ANSWERS[name][1],
            Cell(None, "XLSX", f"{name}.xlsx") if (folder / f"{name}.xlsx").exists() else None,
        ]
        for name in there
    ]
    table = Table("pages", "Pages", [Column("Page"), Column("What it answers"), Column("Its tables")], rows)
    cases = review.results.row("complication")
    said = (
        f"{review.counted(cases.n)} anesthetics in {review.month}."
        if cases
        else "No anesthetic with a start is loaded."
    )
    return Page("index", "Rounds", review.settings.name, review.month or "no month yet",
                [Section("where", "Where to look", "", [said, table])], [], [], review.share)  # fmt: skip
