"""Small records as text tables, and the models of the training log run on them."""

from io import StringIO

import pandas as pd
import pytest

from pipeline import database
from pipeline.models.graph import build_order, model_files

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
