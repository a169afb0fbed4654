"""The training log: who did what, under whose supervision, what is missing, and a sheet to sign.

Read programme.py first (what clinic.toml may ask), then log.py (the tables), targets.py, learning_curve.py,
sheet.py (what is signed, and how it is checked later) and pages.py.
"""

from pathlib import Path


def compute(db, settings, progress=None) -> None:
    """Writes the tables of the training log: those of sql/models/60_training, trainee_targets, trainee_curves.

    Needs the models up to case_windows. Raises SettingsFault where [programme] asks for something unknown.
    """
    from pipeline.training import log

    log.compute(db, settings, progress)


def write_pages(db, settings, clinic: Path, share: bool = False) -> list[Path]:
    """The programme's page, a page a trainee and their sheets to sign. Needs compute(). Returns what was written.

    share: counts below 5 withheld, no case ids, no codes of people, no log and no sheets.
    """
    from pipeline.training import pages

    return pages.write(db, settings, clinic, share)
