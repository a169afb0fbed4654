"""Small records as text tables, and the models of the training log run on them."""

import json
import random
import shutil
from datetime import UTC, date, datetime, timedelta
from io import StringIO

import pandas as pd
import pytest

from pipeline import database, models
from pipeline.models.graph import build_order, model_files
from pipeline.settings import read as read_settings
from pipeline.training import compute, write_pages

# Columns a test may leave out, and their SQL types; times are minutes after 1 March 2026, 00:00 UTC.
INPUTS = {
    "stg_cases": {
        "case_id": "VARCHAR", "site": "VARCHAR", "species": "VARCHAR", "asa_class": "BIGINT", "emergency": "BOOLEAN",
        "procedure": "VARCHAR", "procedure_group": "VARCHAR", "anesthetist": "VARCHAR", "supervisor": "VARCHAR",
        "trainee": "VARCHAR", "trainee_role": "VARCHAR", "ventilation": "VARCHAR", "airway": "VARCHAR",
        "agent": "VARCHAR", "patient_id": "VARCHAR",
    },
    "case_windows": {"case_id": "VARCHAR", "start_s": "BIGINT", "end_s": "BIGINT"},
    "stg_case_people": {
        "case_id": "VARCHAR", "person": "VARCHAR", "role": "VARCHAR", "from_s": "BIGINT", "to_s": "BIGINT",
    },
    "stg_case_techniques": {"case_id": "VARCHAR", "technique": "VARCHAR"},
    "stg_events": {
        "case_id": "VARCHAR", "event": "VARCHAR", "occurred_s": "BIGINT", "severity": "VARCHAR",
    },
    "programme_trainees": {
        "person": "VARCHAR", "start_day": "DATE", "year_at_start": "BIGINT", "leaves_day": "DATE",
    },
}  # fmt: skip
MIDNIGHT_S = 1772323200  # 2026-03-01 00:00 UTC, which is local time here


def minute(clock: str) -> int:
    """Seconds UTC of '09:30', or of '+1 01:15' on the next day.

    >>> minute("00:01") - MIDNIGHT_S, minute("+1 00:00") - MIDNIGHT_S
    (60, 86400)
    """
    day, _, time = clock.rpartition(" ")
    hours, minutes = time.split(":")
    return MIDNIGHT_S + (int(day or 0) * 1440 + int(hours) * 60 + int(minutes)) * 60


def text_table(text: str) -> list[dict]:
    """`name | name` lines as rows; an empty cell is None, clock times in columns ending in _s become seconds."""
    lines = "\n".join(line.strip() for line in text.strip().splitlines())
    frame = pd.read_csv(StringIO(lines), sep=r"\s*\|\s*", engine="python", dtype=str, keep_default_na=False)
    rows = [{name: value or None for name, value in row.items()} for row in frame.to_dict("records")]
    return [
        {name: minute(value) if name.endswith("_s") and value else value for name, value in row.items()} for row in rows
    ]


def load(db, **tables: str | list[dict]) -> None:
    """Writes the inputs of the training models; a table a test leaves out is empty."""
    for name, columns in INPUTS.items():
        given = tables.get(name, [])
        rows = text_table(given) if isinstance(given, str) else given
        db.execute(f"CREATE TABLE {name} ({', '.join(f'{column} {kind}' for column, kind in columns.items())})")
        for row in rows:
            assert row.keys() <= columns.keys(), f"{name} has no column {row.keys() - columns.keys()}"
            places = ", ".join("?" * len(row))
            db.execute(f"INSERT INTO {name} ({', '.join(row)}) VALUES ({places})", list(row.values()))
    db.execute("ALTER TABLE stg_events ADD COLUMN source_file BIGINT")
    db.execute("ALTER TABLE stg_events ADD COLUMN source_row BIGINT")
    db.execute("UPDATE stg_events SET source_file = 1, source_row = rowid")
    db.execute(
        """CREATE OR REPLACE TABLE case_windows AS SELECT *,
           CAST(make_timestamp(start_s * 1000000) AS DATE) AS start_day,
           year(make_timestamp(start_s * 1000000)) * 12 + month(make_timestamp(start_s * 1000000)) - 1 AS month_no
           FROM case_windows"""
    )


@pytest.fixture(scope="session")
def build_training():
    """A function that writes the tables given into a database and runs every model of the layer there."""
    files = model_files("60_training")
    order = [(name, files[name].read_text(encoding="utf-8")) for name in build_order(files)]

    def build(db, **tables):
        load(db, **tables)
        for name, sql in order:
            db.execute(f"CREATE TABLE {name} AS {sql}")

    return build


@pytest.fixture
def training(build_training):
    """Runs the models on the tables given; answers with a function that reads one of them."""
    with database.connect() as db:

        def run(**tables):
            build_training(db, **tables)

            def read(columns: str, table: str, where: str = "true") -> list[tuple]:
                return db.execute(f"SELECT {columns} FROM {table} WHERE {where} ORDER BY ALL").fetchall()

            return read

        yield run


PROGRAMME = {
    "name": "Invented outline",
    "years": 3,
    "trainees": {"ash": {"start": date(2025, 9, 1)}, "elm": {"start": date(2025, 11, 1), "year": 2}},
    "targets": [
        {"name": "Cats", "cases": 30, "species": "cat"},
        {"name": "Sick as primary", "cases": 400, "asa_class": [3, 4, 5], "role": "primary", "year": 1},
        {"name": "Hours", "hours": 60, "year": 1},
    ],
    "learning_curves": [
        {"name": "Arterial lines", "trainees": ["ash"], "technique": "arterial_line",
         "failure_events": ["hemorrhage"], "acceptable": 0.1, "unacceptable": 0.3, "source": "invented"},
    ],
}  # fmt: skip
HOSTILE = '<img src=x onerror="hit=1"> </script> %{y}'
TRAINEES = ("ash", "elm", "T.01/<b>")  # the last is a student whom the programme does not list
SUPERVISORS = ("oak", "yew")


def invented_rows() -> dict[str, list[dict]]:
    """Canonical rows of an invented clinic: 300 cases from 1 September 2025, three trainees, two supervisors."""
    chance = random.Random(8)
    cases, people, events = [], [], []
    for number in range(300):
        start = datetime(2025, 9, 1, 8) + timedelta(hours=22 * number + chance.choice((0, 3)))
        case = f"K{number:04d}"
        trainee = chance.choice((*TRAINEES, None))
        cases.append(
            {
                "case_id": case,
                "patient_id": f"animal-{number:04d}",
                "species": chance.choice(("dog", "dog", "cat", "rabbit")),
                "asa_class": chance.choice((1, 2, 2, 3, 4, None)),
                "emergency": chance.random() < 0.2,
                "procedure": chance.choice(("dental cleaning", HOSTILE)),
                "procedure_group": chance.choice(("dental", "imaging")),
                "anesthetist": "nurse",
                "supervisor": chance.choice((*SUPERVISORS, None)),
                "trainee": trainee,
                "trainee_role": chance.choice(("primary", "assisting", "observing")) if trainee else None,
                "techniques": chance.choice(("", "arterial_line", "epidural; nerve_block")),
                "airway": "tracheal_tube",
                "induction_at": start,
                "extubation_at": start + timedelta(minutes=chance.randint(30, 180)),
            }
        )
        if number % 50 == 7:  # the senior trainee supervises the junior one
            cases[-1] |= {"trainee": "ash", "trainee_role": "primary", "supervisor": "elm"}
        if number % 40 == 3:
            half = start + timedelta(minutes=20)
            people += [{"case_id": case, "person": "ash", "role": "observing", "from_at": start, "to_at": half},
                       {"case_id": case, "person": "ash", "role": "primary", "from_at": half},
                       {"case_id": case, "person": "T.01/<b>", "role": "assisting"}]  # fmt: skip
        if chance.random() < 0.3:
            events.append({"case_id": case, "event": chance.choice(("hypotension", "hemorrhage")),
                           "severity": chance.choice(("minor", "severe"))})  # fmt: skip
    return {"cases": cases, "case_people": people, "events": events}


def write_invented(db, settings) -> None:
    """The invented clinic in the canonical tables; local time is UTC."""
    models.prepare(db, settings)
    for name, rows in invented_rows().items():
        for number, row in enumerate(rows, 2):
            times = {key: value.replace(tzinfo=UTC) for key, value in row.items() if isinstance(value, datetime)}
            seconds = {f"{key}_s": int(value.timestamp()) for key, value in times.items()}
            full = {**row, **seconds, "source_file": 1, "source_row": number}
            columns, places = ", ".join(f'"{key}"' for key in full), ", ".join("?" * len(full))
            db.execute(f"INSERT INTO {name} ({columns}) VALUES ({places})", list(full.values()))
    models.build_layer(db, ("20_cases",))
    compute(db, settings)


@pytest.fixture(scope="session")
def invented_clinic(tmp_path_factory):
    """A clinic folder with a database and both kinds of pages. Read it, do not change it: see copy_of."""
    clinic = tmp_path_factory.mktemp("clinic")
    (clinic / "clinic.toml").write_text(programme_toml(), encoding="utf-8")
    settings = read_settings(clinic / "clinic.toml")
    with database.connect(clinic / database.FILE) as db:
        write_invented(db, settings)
        write_pages(db, settings, clinic)
        write_pages(db, settings, clinic, share=True)
    return clinic


@pytest.fixture
def copy_of_clinic(invented_clinic, tmp_path):
    """The same, to be changed."""
    shutil.copytree(invented_clinic, tmp_path / "clinic")
    return tmp_path / "clinic"


def programme_toml() -> str:
    """PROGRAMME as a clinic.toml."""

    def shown(value) -> str:
        if isinstance(value, dict):
            return "{ " + ", ".join(f"{key} = {shown(one)}" for key, one in value.items()) + " }"
        if isinstance(value, list):
            return "[" + ", ".join(map(shown, value)) + "]"
        return json.dumps(value) if isinstance(value, str) else str(value)

    lines = [f"{key} = {shown(value)}" for key, value in PROGRAMME.items()]
    return "\n".join(['zone = "UTC"', 'name = "Invented <clinic>"', "[programme]", *lines])
