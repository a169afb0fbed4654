"""Writes the tables of the training log and reads them back as rows."""

from datetime import date

from pipeline.database import write_rows
from pipeline.models.build import build_layer
from pipeline.training import learning_curve, programme, targets
from pipeline.training.programme import Trainee

LAYER = "60_training"

TARGET_COLUMNS = {
    "person": "VARCHAR", "position": "BIGINT", "target": "VARCHAR", "unit": "VARCHAR", "year": "BIGINT",
    "from_day": "DATE", "to_day": "DATE", "wanted": "DOUBLE", "done": "DOUBLE", "missing": "DOUBLE",
    "undecided": "BIGINT", "pace_so_far": "DOUBLE", "pace_needed": "DOUBLE", "state": "VARCHAR",
}  # fmt: skip
CURVE_COLUMNS = {
    "person": "VARCHAR", "position": "BIGINT", "curve": "VARCHAR", "attempt": "BIGINT", "case_id": "VARCHAR",
    "start_day": "DATE", "failed": "BIGINT", "total": "DOUBLE", "crossed": "VARCHAR",
}  # fmt: skip


def compute(db, settings, progress=None) -> None:
    """The models of the training layer, then trainee_targets and trainee_curves."""
    asked = programme.read(settings.programme)
    write_rows(
        db,
        "programme_trainees",
        {"person": "VARCHAR", "start_day": "DATE", "year_at_start": "BIGINT", "leaves_day": "DATE"},
        [(one.person, one.start, one.year, one.leaves) for one in asked.trainees.values()],
    )
    build_layer(db, (LAYER,), progress)
    logged = rows(db)
    write_rows(db, "trainee_targets", TARGET_COLUMNS, targets.table(asked, logged, *covered(db)))
    write_rows(db, "trainee_curves", CURVE_COLUMNS, learning_curve.table(asked, logged, events(db)))


def covered(db) -> tuple[date | None, date | None]:
    """The days of the first and the last case loaded: 'so far' means up to the last, never today."""
    return db.execute("SELECT min(start_day), max(start_day) FROM case_windows").fetchone()


def rows(db) -> list[dict]:
    """The counted rows of trainee_log, in order of time, with each case's techniques and each part's supervisors.

    technique: a frozenset of codes; supervisors: a sorted tuple of person codes.
    """
    found = select(db, "SELECT * FROM trainee_log WHERE counted = 1 ORDER BY start_s, case_id, person, role")
    techniques: dict[str, set] = {}
    for case_id, technique in db.execute("SELECT case_id, technique FROM stg_case_techniques").fetchall():
        techniques.setdefault(case_id, set()).add(technique)
    supervisors: dict[tuple, list] = {}
    for case_id, one, role, supervisor in db.execute(
        "SELECT case_id, person, role, supervisor FROM part_minutes WHERE span = 'supervisor' ORDER BY supervisor"
    ).fetchall():
        supervisors.setdefault((case_id, one, role), []).append(supervisor)
    for row in found:
        row["technique"] = frozenset(techniques.get(row["case_id"], ()))
        row["supervisors"] = tuple(supervisors.get((row["case_id"], row["person"], row["role"]), ()))
        row["supervised"] = None if row["supervised"] is None else row["supervised"] == 1
    return found


def events(db) -> dict[str, set[str]]:
    """The charted complications of each case."""
    found: dict[str, set[str]] = {}
    for case_id, event in db.execute("SELECT DISTINCT case_id, event FROM stg_events").fetchall():
        found.setdefault(case_id, set()).add(event)
    return found


def trainees(db) -> dict[str, Trainee | None]:
    """Everybody with a log, by code; None where the programme does not list them."""
    found = db.execute("SELECT person, start_day, year_at_start, leaves_day FROM trainees ORDER BY person").fetchall()
    return {
        person: Trainee(person=person, start=start, year=year, leaves=leaves) if start else None
        for person, start, year, leaves in found
    }


def select(db, sql: str, **values) -> list[dict]:
    """Rows of a query with $names, as dicts."""
    answer = db.execute(sql, values)
    names = [column[0] for column in answer.description]
    return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]
