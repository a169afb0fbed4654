"""Writes a clinic's pages: which names there are, and what each is made of."""

from pathlib import Path

from pipeline.database import connect
from pipeline.errors import UserFault
from pipeline.reporting import sheets
from pipeline.reporting.frame import render_page, write_page
from pipeline.reporting.index import index_page
from pipeline.reporting.results import no_results
from pipeline.reporting.review import Review, review_of

FOLDER = "reports"
SHARED = "shared"
NAMES = ("quality", "stock", "training", "records")
APART = ("quality", "stock")
"""About half of the work of all pages."""


def folder_of(clinic: Path, share: bool) -> Path:
    """Where a clinic's pages lie; shared copies apart, so that nothing beside them has more in it than it may."""
    return clinic / FOLDER / SHARED if share else clinic / FOLDER


def write(db, settings, clinic: Path, names: list[str] | None = None, month: str | None = None,
          share: bool = False) -> list[Path]:  # fmt: skip
    """Writes the pages named (all without a name) and the index into clinic/reports.

    db: an open DuckDB connection with the results table. month: 'YYYY-MM', None for the last complete one.
    share: counts below 5 withheld, no case numbers; these pages go to clinic/reports/shared, so that nothing
    beside them holds more than it may. Returns the paths written, the index first.
    Raises UserFault for a page we do not know or a month without results.
    """
    review = review_of(db, settings, clinic, month, share)
    written = _each(review, _known(names))
    _store(db, review)
    return [_index(review), *written]


def write_beside(path: Path, settings, clinic: Path, names: list[str], month: str | None, share: bool,
                 second) -> list[Path]:  # fmt: skip
    """The same from a database file that no process has open, with the pages of APART written in a second process
    (pipeline.beside) meanwhile."""
    there = [name for name in _known(names) if name in APART]
    apart = second.submit(_apart, path, settings, clinic, there, month, share) if there else None
    with connect(path, read_only=True) as db:
        review = review_of(db, settings, clinic, month, share)
        written = _each(review, [name for name in names if name not in there])
        if apart:
            paths, found = apart.result()
            written = paths + written
            review.to_keep.update(found)
        index = _index(review)
    with connect(path) as db:
        _store(db, review)
    return [index, *written]


def _apart(path: Path, settings, clinic: Path, names: list[str], month: str | None, share: bool):
    """(paths of the pages written, what they found to keep)."""
    with connect(path, read_only=True) as db:
        review = review_of(db, settings, clinic, month, share)
        return _each(review, names), review.to_keep


def _known(names: list[str] | None) -> list[str]:
    for name in names or ():
        if name not in NAMES:
            raise UserFault(where="report", found=f"a page called {name}", wanted="one of " + ", ".join(NAMES),
                            fix="give one of these names, or none for all pages")  # fmt: skip
    return names or list(NAMES)


def _each(review: Review, names: list[str]) -> list[Path]:
    return [path for name in names for path in WRITERS[name](review, folder_of(review.clinic, review.share))]


def _index(review: Review) -> Path:
    folder = folder_of(review.clinic, review.share)
    index = folder / "index.html"
    sheets.replace(index, render_page(index_page(review, folder), review.settings).encode("utf-8"))
    return index


def _store(db, review: Review) -> None:
    """Keeps what the pages found, under the report month."""
    for name, found in review.to_keep.items():
        db.register("found", found)
        db.execute(f"CREATE OR REPLACE TABLE {name} AS SELECT '{review.results.month}' AS report_month, * FROM found")
        db.unregister("found")


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

    return pages.write(review.db, review.settings, review.clinic, review.results.month, review.share, review.results)


def training(review: Review, folder: Path) -> list[Path]:
    from pipeline.training import pages

    return pages.write(review.db, review.settings, review.clinic, review.share)


def records(review: Review, folder: Path) -> list[Path]:
    from pipeline.checks import pages

    return pages.write(review.db, review.settings, review.clinic, review.share)


WRITERS = {"quality": quality, "stock": stock, "training": training, "records": records}
