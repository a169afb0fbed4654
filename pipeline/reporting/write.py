"""Writes a clinic's pages: which names there are, and what each is made of."""

from pathlib import Path

from pipeline.errors import UserFault
from pipeline.reporting.display import Display
from pipeline.reporting.frame import write_page
from pipeline.reporting.results import Results
from pipeline.reporting.review import Review

FOLDER = "reports"


def write(db, settings, clinic: Path, names: list[str] | None = None, month: str | None = None,
          share: bool = False) -> list[Path]:  # fmt: skip
    """Writes the pages named (all without a name) and the index into clinic/reports.

    db: an open DuckDB connection with the results table. month: 'YYYY-MM', None for the last complete one.
    share: counts below 5 withheld, no case numbers. Returns the paths written, index first.
    Raises UserFault for a page we do not know or a month without results.
    """
    from pipeline.reporting import quality

    makers = {"quality": quality.page}
    for name in names or ():
        if name not in makers:
            raise UserFault(where="report", found=f"a page called {name}", wanted="one of " + ", ".join(makers),
                            fix="give one of these names, or none for all pages")  # fmt: skip
    display = Display(settings.display)
    review = Review(db, settings, clinic, Results(db, month, share), display, share)
    folder = clinic / FOLDER
    written = []
    for name in names or makers:
        written += write_page(makers[name](review), settings, db, folder)
    return written
