"""The whole pipeline on one page, in order: intake, checks, models, measures, figures, pages.

Start reading here. Every command does a part of `rounds_of`, none does anything else.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline import database, settings
from pipeline.progress import Progress, Silent

REPORTS = ("quality", "stock", "training", "records")


@dataclass
class Outcome:
    """What a run did. receipt: what the loads did; verdicts: what the checks found; pages: files written."""

    receipt: Any = None
    verdicts: Any = None
    month: str | None = None
    pages: list[Path] = field(default_factory=list)


def rounds_of(
    clinic: Path,
    *,
    paths: list[Path] | None = None,
    load: bool = True,
    reports: tuple[str, ...] = REPORTS,
    month: str | None = None,
    share: bool = False,
    progress: Progress | None = None,
    second=None,
) -> Outcome:
    """From the exports in a clinic folder to its pages. Raises UserFault for what a clinic can mend.

    second: a second process for what needs no open database (pipeline.beside); without one all is done here.
    """
    from pipeline import checks, intake, measures, models, reporting, stock, training
    from pipeline.beside import Here
    from pipeline.lanes import lanes

    progress, second = progress or Silent(), second or Here()
    chosen = settings.read(clinic / settings.FILE)
    done = Outcome()

    with database.connect(clinic / database.FILE) as db:
        if load:
            done.receipt = intake.load(db, chosen, clinic, paths, progress)

        models.prepare(db, chosen)
        counted = checks.start(db, chosen, progress, second)

        models.build(db, chosen, progress)
        with lanes(db, "for_books") as side:
            shelves = side.submit(stock.build, chosen)
            log = side.submit(training.compute, chosen)
            done.month = measures.compute(db, chosen, month, progress)
            shelves.result()
            stock.forecast(db, chosen, done.month, progress, second)
            log.result()
        done.verdicts = checks.finish(db, counted)

    progress.step("writing the pages")
    done.pages = reporting.write_beside(
        clinic / database.FILE, chosen, clinic, list(reports), done.month, share, second
    )

    progress.finish()
    return done


def load_only(clinic: Path, paths: list[Path] | None, progress: Progress) -> Outcome:
    """Intake alone."""
    from pipeline import intake

    chosen = settings.read(clinic / settings.FILE)
    with database.connect(clinic / database.FILE) as db:
        receipt = intake.load(db, chosen, clinic, paths, progress)
    progress.finish()
    return Outcome(receipt=receipt)


def check_only(clinic: Path, progress: Progress) -> Outcome:
    """Every rule over what is loaded, and the record-quality report."""
    from pipeline import checks, measures, models, reporting

    chosen = settings.read(clinic / settings.FILE)
    with database.connect(clinic / database.FILE) as db:
        models.prepare(db, chosen)
        verdicts = checks.finish(db, checks.start(db, chosen, progress))
        models.build(db, chosen, progress)
        month = measures.compute(db, chosen, None, progress)
        pages = reporting.write(db, chosen, clinic, ["records"], month, False)
    progress.finish()
    return Outcome(verdicts=verdicts, month=month, pages=pages)


def results_only(clinic: Path, month: str | None, progress: Progress) -> str | None:
    """Models and measures over what is loaded; returns the report month."""
    from pipeline import measures, models

    chosen = settings.read(clinic / settings.FILE)
    with database.connect(clinic / database.FILE) as db:
        models.prepare(db, chosen)
        models.build(db, chosen, progress)
        used = measures.compute(db, chosen, month, progress)
    progress.finish()
    return used


def summary_of(clinic: Path, month: str | None, share: bool, of_group: bool = False) -> str:
    """The quality report of a month in sentences, as plain text."""
    from pipeline import reporting
    from pipeline.engines.group import FOLDER

    chosen = settings.read(clinic / settings.FILE)
    home = clinic / FOLDER if of_group else clinic
    with database.connect(home / database.FILE, read_only=True) as db:
        return reporting.summary_text(db, chosen, home, month, share or of_group)


def results_of_group(
    clinic: Path, pooled: Path, master: str | None, month: str | None, progress: Progress
) -> str | None:
    """`results` of a whole group from a pool, kept below this folder; master: of Spark, None for DuckDB."""
    from pipeline.engines import group

    used = group.results(clinic, settings.read(clinic / settings.FILE), pooled, master, month, progress)
    progress.finish()
    return used


def pages_of_group(clinic: Path, month: str | None) -> Outcome:
    """The group's page over the results last computed."""
    from pipeline.engines import group

    pages, used = group.pages(clinic, settings.read(clinic / settings.FILE), month)
    return Outcome(month=used, pages=pages)
