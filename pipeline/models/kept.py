"""What need not be computed again: the rows of cases, months and periods of which nothing changed.

A case is its rows in the staging views; their fingerprint is a sum of row hashes, so that order does not count.
Where it is another one than last time, the models built by case are computed for that case alone: temporary views with
the names of the staging views, but only its rows, stand in front of them, so that the SQL stays as it is. A month is
stale where a case of it changed, or a row of a model built whole; a calendar year where one of its months is. Other
settings, seeds, SQL or code, and other rows of a model built before cases: everything anew.

The database keeps kept_state(fingerprint), kept_cases(case_id, fingerprint), kept_months(month_no,
fingerprint) and stale_months(month_no), which `measures.compute` empties. They are written last: a run that was killed
is done again, and gives the same rows.
"""

import hashlib
from contextlib import contextmanager
from typing import NamedTuple

import duckdb

from pipeline import database
from pipeline.models.graph import tables_read
from pipeline.settings import Settings
from pipeline.shipped import PACKAGE, folder

# More changed cases than this share of all: building whole is as fast.
MOST_CHANGED = 0.5
CODE = ("models", "measures", "statistics")


class Changes(NamedTuple):
    """everything: nothing kept can be used; cases: how many cases have other rows than last time."""

    everything: bool
    cases: int


def fingerprint(settings: Settings) -> str:
    """Of all that decides how rows become results, but for the rows."""
    found = hashlib.sha256(f"{settings!r} {duckdb.__version__}".encode())
    ours = [(folder("sql"), "*.sql"), (folder("sql"), "*.csv"), *((PACKAGE / name, "*.py") for name in CODE)]
    for root, kind in ours:
        for path in sorted(root.rglob(kind)):
            found.update(path.name.encode() + path.read_bytes())
    return found.hexdigest()


def changes(db, settings: Settings, models: dict) -> Changes:
    """Compares the cases with last time's; writes temporary tables now_cases and changed_cases."""
    for table, columns in (
        ("kept_state", "fingerprint VARCHAR"),
        ("kept_cases", "case_id VARCHAR, fingerprint HUGEINT"),
        ("kept_months", "month_no BIGINT, fingerprint HUGEINT"),
        ("stale_months", "month_no BIGINT"),
    ):
        db.execute(f"CREATE TABLE IF NOT EXISTS {table} ({columns})")
    hashed = " UNION ALL ".join(
        f"SELECT case_id, sum({row_hash(db, name)}) AS fingerprint FROM {name} GROUP BY case_id"
        for name in staging_of(db, models)
    )
    db.execute(f"""
        CREATE OR REPLACE TEMP TABLE now_cases AS
        SELECT case_id, sum(fingerprint)::HUGEINT AS fingerprint FROM ({hashed}) GROUP BY case_id
    """)
    db.execute("""
        CREATE OR REPLACE TEMP TABLE changed_cases AS
        SELECT coalesce(now_cases.case_id, kept_cases.case_id) AS case_id
        FROM now_cases FULL JOIN kept_cases ON kept_cases.case_id = now_cases.case_id
        WHERE now_cases.fingerprint IS DISTINCT FROM kept_cases.fingerprint
    """)
    changed, cases = db.execute(
        "SELECT (SELECT count(*) FROM changed_cases), (SELECT count(*) FROM now_cases)"
    ).fetchone()
    stands = {name for (name,) in db.execute("SELECT table_name FROM information_schema.tables").fetchall()}
    usable = models.keys() <= stands and (_state(db, settings, models),) in db.execute("FROM kept_state").fetchall()
    return Changes(not usable or changed > MOST_CHANGED * cases, changed)


def staging_of(db, models: dict) -> list[str]:
    """Staging views that the models built by case read, themselves or through a view."""
    read = set().union(*(tables_read(model.sql) for model in by_case(models).values()))
    return sorted(name for name in read - models.keys() if "case_id" in columns(db, name))


def by_case(models: dict) -> dict:
    """The models built by case, and the views that read nothing else of the models."""
    found = {}
    first = built(models, "before cases").keys()
    for name, model in models.items():
        local = (tables_read(model.sql) & models.keys()) <= found.keys() | first
        if model.built == "by case" or (model.built == "as a view" and local):
            found[name] = model
    return found


def built(models: dict, how: str) -> dict:
    """The models whose header says so."""
    return {name: model for name, model in models.items() if model.built == how}


def columns(db, name: str) -> list[str]:
    return [row[0] for row in db.execute(f"DESCRIBE {name}").fetchall()]


def row_hash(db, name: str) -> str:
    """SQL for the hash of a row of a table, the table's name in it."""
    return f"hash('{name}', {', '.join(f'{name}.{column}' for column in columns(db, name))})"


@contextmanager
def only_changed_cases(db, models: dict):
    """Puts the changed cases' rows of the staging views in front of them; gives the models to build upon these."""
    part = by_case(models)
    stale_from_cases(db, part)
    names = staging_of(db, models)
    put_in_front(db, names, "case_id IN (FROM changed_cases)")
    try:
        yield part
    finally:
        drop_temporary(db, [*names, *part])
    stale_from_cases(db, part)


def stale_from_cases(db, part: dict) -> None:
    """Marks the months that the changed cases have rows in: of their start, without one of a dose."""
    for name in part:
        if {"case_id", "month_no"} <= set(columns(db, name)):
            db.execute(
                f"INSERT INTO stale_months SELECT DISTINCT month_no FROM {name} JOIN changed_cases USING (case_id)"
            )


@contextmanager
def only_stale_months(db, models: dict):
    """The same for the models built by month: what they read of months or cases stands in front, of the stale months
    only."""
    with only_of_months(db, built(models, "by month"), models, "stale_months") as part:
        yield part


@contextmanager
def only_stale_years(db, models: dict):
    """The same for the models built by year."""
    db.execute("""
        CREATE OR REPLACE TEMP TABLE stale_years AS
        SELECT DISTINCT CAST(floor(month_no / 12e0) AS BIGINT) AS year_no FROM stale_months
    """)
    db.execute("""
        CREATE OR REPLACE TEMP TABLE months_of_years AS
        SELECT 12 * year_no + nth AS month_no FROM stale_years, range(12) AS months(nth)
    """)
    with only_of_months(db, built(models, "by year"), models, "months_of_years") as part:
        yield part


@contextmanager
def only_of_months(db, part: dict, models: dict, months: str):
    """Puts in front of what some models read the rows of the months of a table, and of the cases of these months."""
    db.execute(f"""
        CREATE OR REPLACE TEMP TABLE cases_of_months AS
        SELECT case_id FROM case_windows WHERE month_no IN (FROM {months})
    """)
    of_month, of_case = [], []
    for name in read_by(part, models):
        found = columns(db, name)
        (of_month if "month_no" in found else of_case if "case_id" in found else []).append(name)
    put_in_front(db, of_month, f"month_no IN (FROM {months})")
    put_in_front(db, of_case, "case_id IN (FROM cases_of_months)")
    try:
        yield part
    finally:
        drop_temporary(db, [*of_month, *of_case, *part])


def read_by(part: dict, models: dict) -> list[str]:
    """What some models read, themselves or through views: tables, and staging views."""
    read, ask = set(), list(part)
    while ask:
        for name in tables_read(models[ask.pop()].sql) - part.keys() - read:
            read.add(name)
            if name in models and models[name].built == "as a view":
                ask.append(name)
    return sorted(name for name in read if name not in models or models[name].built != "as a view")


def put_in_front(db, names: list[str], condition: str) -> None:
    """Temporary tables of the same names with only some of the rows: what is read from now on."""
    for name in names:
        db.execute(f"CREATE TEMP TABLE {name} AS FROM {name} WHERE {condition}")


def merge(db, part: dict, key: str, changed: str) -> None:
    """Puts the temporary tables' rows in the place of those with a changed key."""
    (home,) = db.execute("SELECT current_database()").fetchone()
    with database.at_once(db):
        for name, model in part.items():
            if model.built != "as a view":
                db.execute(f'DELETE FROM "{home}".main.{name} WHERE {key} IN (SELECT {key} FROM {changed})')
                db.execute(f'INSERT INTO "{home}".main.{name} FROM temp.{name}')


def drop_temporary(db, names: list[str]) -> None:
    stands = db.execute("SELECT table_name, table_type FROM information_schema.tables WHERE table_catalog = 'temp'")
    for name, kind in stands.fetchall():
        if name in names:
            db.execute(f"DROP {'VIEW' if kind == 'VIEW' else 'TABLE'} temp.{name}")


def stale_from_rows(db, models: dict) -> None:
    """Marks the months in which a model built whole has other rows of cases than last time."""
    whole = [name for name, model in models.items() if model.built == "" and "case_id" in columns(db, name)]
    hashed = " UNION ALL ".join(
        f"""SELECT case_windows.month_no, sum({row_hash(db, name)}) AS fingerprint
        FROM {name} JOIN case_windows ON case_windows.case_id = {name}.case_id GROUP BY case_windows.month_no"""
        for name in whole
    )
    db.execute(f"""
        CREATE OR REPLACE TEMP TABLE now_months AS
        SELECT month_no, sum(fingerprint)::HUGEINT AS fingerprint FROM ({hashed}) GROUP BY month_no
    """)
    db.execute("""
        INSERT INTO stale_months
        SELECT coalesce(now_months.month_no, kept_months.month_no)
        FROM now_months FULL JOIN kept_months ON kept_months.month_no = now_months.month_no
        WHERE now_months.fingerprint IS DISTINCT FROM kept_months.fingerprint
    """)


def all_stale(db, models: dict) -> None:
    """Marks every month, after everything was built anew."""
    stale_from_rows(db, models)
    db.execute("INSERT INTO stale_months SELECT DISTINCT month_no FROM case_windows")


def forget(db) -> None:
    """Before everything is built anew: nothing is kept until it stands."""
    db.execute("DELETE FROM kept_state")


def remember(db, settings: Settings, models: dict) -> None:
    """After the models stand: the cases and months they were built from."""
    state = _state(db, settings, models)
    with database.at_once(db):
        for kind in ("cases", "months"):
            db.execute(f"CREATE OR REPLACE TABLE kept_{kind} AS FROM now_{kind}")
            db.execute(f"DROP TABLE now_{kind}")
        db.execute("DROP TABLE changed_cases")
        db.execute("DELETE FROM kept_state")
        db.execute("INSERT INTO kept_state VALUES (?)", [state])


def _state(db, settings: Settings, models: dict) -> str:
    """The fingerprint, and that of the rows of the models built before cases."""
    rows = {name: sorted(db.execute(f"FROM {name}").fetchall()) for name in built(models, "before cases")}
    return f"{fingerprint(settings)} {hashlib.sha256(repr(rows).encode()).hexdigest()}"
