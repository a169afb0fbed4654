"""Writes a clinic's pages: which names there are, and what each is made of."""

from pathlib import Path

from pipeline.errors import UserFault
from pipeline.reporting import sheets
from pipeline.reporting.display import Display
from pipeline.reporting.frame import render_page, write_page
from pipeline.reporting.index import index_page
from pipeline.reporting.results import Results, no_results
from pipeline.reporting.review import Review

FOLDER = "reports"
SHARED = "shared"
NAMES = ("quality", "stock", "training", "records")


def write(db, settings, clinic: Path, names: list[str] | None = None, month: str | None = None,
          share: bool = False) -> list[Path]:  # fmt: skip
    """Writes the pages named (all without a name) and the index into clinic/reports.

    db: an open DuckDB connection with the results table. month: 'YYYY-MM', None for the last complete one.
    share: counts below 5 withheld, no case numbers; these pages go to clinic/reports/shared, so that nothing
    beside them holds more than it may. Returns the paths written, the index first.
    Raises UserFault for a page we do not know or a month without results.
    """
    for name in names or ():
        if name not in NAMES:
            raise UserFault(where="report", found=f"a page called {name}", wanted="one of " + ", ".join(NAMES),
                            fix="give one of these names, or none for all pages")  # fmt: skip
    folder = clinic / FOLDER / SHARED if share else clinic / FOLDER
    review = Review(db, settings, clinic, Results(db, month, share), Display(settings.display), share)
    written = []
    for name in names or NAMES:
        written += WRITERS[name](review, folder)
    index = folder / "index.html"
    sheets.replace(index, render_page(index_page(review, folder), settings).encode("utf-8"))
    return [index, *written]


def quality(review: Review, folder: Path) -> list[Path]:
    from pipeline.reporting import quality, summary
    from pipeline.reporting.cases import discussed

    if not review.results.month:
        raise no_results()
    page, cases = quality.page(review), discussed.page(review)
    written = write_page(page, review.settings, review.db, folder)
    written.append(summary.write(page, review, folder))
    written += write_page(cases, review.settings, review.db, folder) if cases else []
    _clear(folder, written)
    return written


def _clear(folder: Path, written: list[Path]) -> None:
    """Takes away what an earlier month left of these pages: its tables, and its cases where this month has none."""
    old = [folder / "cases.html", folder / "cases.xlsx", *(folder / "tables").glob("quality_*.csv"),
           *(folder / "tables").glob("cases_*.csv")]  # fmt: skip
    for path in set(old) - set(written):
        path.unlink(missing_ok=True)


def stock(review: Review, folder: Path) -> list[Path]:
    from pipeline.stock import pages

    return pages.write(review.db, review.settings, review.clinic, review.results.month, review.share)


def training(review: Review, folder: Path) -> list[Path]:
    from pipeline.training import pages

    return pages.write(review.db, review.settings, review.clinic, review.share)


def records(review: Review, folder: Path) -> list[Path]:
    from pipeline.checks import pages

    return pages.write(review.db, review.settings, review.clinic, review.share)


WRITERS = {"quality": quality, "stock": stock, "training": training, "records": records}
