"""Writes the programme's page, a page a trainee and their sheets to sign."""

from pathlib import Path

from pipeline.errors import UserFault
from pipeline.reporting import sheets as files
from pipeline.reporting.display import Display
from pipeline.reporting.frame import Page, render_page, tables_of, write_page
from pipeline.reporting.write import folder_of
from pipeline.training import log, programme, programme_page, sheet, sheet_page, trainee_page
from pipeline.training.view import View, file_name


def write(db, settings, clinic: Path, share: bool = False) -> list[Path]:
    """The pages of the training report, the programme's first. A shared copy goes to a folder of its own, so that
    nothing beside it has more in it than it may."""
    begins, until = log.covered(db)
    if begins is None or until is None:
        raise UserFault(
            where="training report",
            found="no case with a start",
            wanted="loaded cases",
            fix="load the exports, then run the command again",
        )
    view = View(db, settings, programme.read(settings.programme), Display(settings.display), begins, until, share)
    root = folder_of(clinic, share)
    people = log.trainees(db)
    written = write_page(programme_page.page(view, people), settings, db, root)
    logged: dict[str, list[dict]] = {person: [] for person in people}
    for row in log.rows(db):
        logged[row["person"]].append(row)
    for person, trainee in people.items():
        signed = [] if share else write_sheets(view, person, logged[person], root / "training" / "sheets")
        made = trainee_page.page(view, person, trainee, logged[person], [(one, path.name) for one, path in signed])
        written += write_trainee(view, made, trainee is not None, root / "training")
        written += [path for _, path in signed]
    return written


def write_trainee(view: View, made: Page, listed: bool, folder: Path) -> list[Path]:
    """A trainee's page with the log as CSV and XLSX; the other tables too where the programme lists the trainee."""
    if listed:
        return write_page(made, view.settings, view.db, folder)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{made.name}.html"
    files.replace(path, render_page(made, view.settings, view.db).encode("utf-8"))
    only = [table for table in tables_of(made.sections) if table.id == "log-table"]
    return [path, *files.write_tables(made.name, only, folder, view.display)]


def write_sheets(view: View, person: str, own: list[dict], folder: Path) -> list[tuple]:
    """A sheet for every period that is over and has a row: the page to print and the file that checks it.

    A sheet already written is left alone, byte for byte: its paper may be signed. Returns (Sheet, path of the page).
    """
    if not own:
        return []
    folder.mkdir(parents=True, exist_ok=True)
    found = []
    for period, first, last in sheet.periods(own[0]["start_day"], view.until, view.asked.sheets):
        one = sheet.make(person, period, first, last, own)
        if not one.rows:
            continue
        path = folder / f"{file_name(person)}_{one.stem}.html"
        if not path.with_suffix(".json").exists():
            files.replace(path.with_suffix(".json"), sheet.stored(one).encode("utf-8"))
        if not path.exists():
            files.replace(path, render_page(sheet_page.page(view, one, path.stem), view.settings).encode("utf-8"))
        found.append((one, path))
    return found
