"""A group of sites: `results` of a pool on either engine, and the group's page from them.

Everything lies in the folder `group` below the clinic's: a database of its own, since the clinic's holds the clinic's
own records, and the pages.
"""

from pathlib import Path

from pipeline import database
from pipeline.settings import Settings

FOLDER = "group"
MODELS = "models"


def results(clinic: Path, settings: Settings, pooled: Path, master: str | None, month: str | None, progress):
    """Writes the group's database anew; returns the report month, None without a case. master: of Spark, or DuckDB."""
    from pipeline.engines import one_machine, spark

    pooled = pooled.absolute()
    kept = clinic / FOLDER / database.FILE
    kept.parent.mkdir(exist_ok=True)
    unfinished = kept.with_name(kept.name + ".new")
    unfinished.unlink(missing_ok=True)
    with database.connect(unfinished) as db:
        if master is None:
            used = one_machine.results(db, pooled, settings, month, progress)
        else:
            with spark.session(master) as session:
                used = spark.results(session, db, pooled, pooled / MODELS, settings, month)
    unfinished.replace(kept)
    return used


def pages(clinic: Path, settings: Settings, month: str | None) -> tuple[list[Path], str]:
    """(the group's quality page and its summary, report month) from the results last computed.

    Raises SettingsFault where there are none.

    As for sharing: counts below 5 withheld, no case listed. The cases are the clinics', which discuss them at home.
    """
    from pipeline import reporting
    from pipeline.errors import SettingsFault
    from pipeline.reporting.results import Results

    home = clinic / FOLDER
    if not (home / database.FILE).exists():
        raise SettingsFault(
            where="--group",
            found="no results of a group in this folder",
            wanted="results computed over a pool",
            fix="run `rounds results --pool DIR` first",
        )
    with database.connect(home / database.FILE) as db:
        written = reporting.write(db, settings, home, ["quality"], month, share=True)
        return written, Results(db, month).month
