"""Loads a record into a database, runs the pipeline, and lists where `results` and the second reading differ."""

import duckdb
import reference

from pipeline import measures, models, schema
from pipeline.settings import from_dict

# What only the pipeline has: names and bands of its own.
OWN_MEASURES = {"cases", "anesthesia_hours", "anesthesia_minutes", "anesthesia_minutes_q1", "anesthesia_minutes_q3"}
OWN_GROUPS = {"weight_band"}
FIELDS = ("n", "numerator", "denominator", "value", "low", "high", "not_assessable", "partial")


def database_of(record):
    db = duckdb.connect()
    for table in schema.TABLES.values():
        db.execute(schema.create_table(table))
    fill(db, record)
    db.execute("CREATE TABLE quarantine (table_name VARCHAR, month_no BIGINT, site VARCHAR)")
    for row in record["quarantine"]:
        db.execute("INSERT INTO quarantine VALUES (?, ?, ?)", [row["table_name"], row["month_no"], row["site"]])
    return db


def fill(db, record):
    """Writes the rows of a record into the canonical tables."""
    for table in schema.TABLES.values():
        names = [name for name, _ in schema.stored_columns(table)]
        if rows := record[table.name]:
            columns = ", ".join(f'"{name}"' for name in names)
            places = ", ".join([f"({', '.join('?' * len(names))})"] * len(rows))
            cells = [row[name] for row in rows for name in names]
            db.execute(f"INSERT INTO {table.name} ({columns}) VALUES {places}", cells)


def record_of(db):
    """The canonical rows of a loaded database."""
    record = {}
    for name in (*schema.TABLES, "quarantine"):
        answer = db.execute(f"SELECT * FROM {name}")
        columns = [column[0] for column in answer.description]
        record[name] = [dict(zip(columns, row, strict=True)) for row in answer.fetchall()]
    return record


def pipeline_results(db, settings, month=None):
    """Rows of `results` in the shape of reference.results."""
    models.prepare(db, settings)
    models.build(db, settings)
    measures.compute(db, settings, month)
    answer = db.execute(
        'SELECT measure, period, "by", level, n, numerator, denominator, value, low, high, not_assessable, method'
        " FROM results"
    )
    found = {}
    for row in answer.fetchall():
        if row[0] not in OWN_MEASURES and not row[0].endswith("_log_rank") and row[2] not in OWN_GROUPS:
            assert row[:4] not in found, f"two rows of {row[:4]}"
            found[row[:4]] = (*row[4:11], row[11].endswith("; partial"))
    return found


def differences(found, expected):
    """Sentences: a row one of the two has not, a number that differs by more than 1e-9."""
    said = []
    for key in sorted(found.keys() | expected.keys()):
        if key not in found or key not in expected:
            said.append(f"{key} only in {'results' if key in found else 'the reference'}: "
                        f"{found.get(key) or expected.get(key)}")  # fmt: skip
            continue
        for field, ours, theirs in zip(FIELDS, found[key], expected[key], strict=True):
            if not same(ours, theirs):
                said.append(f"{key} {field}: results {ours}, reference {theirs}")
    return said


def same(ours, theirs):
    if ours is None or theirs is None:
        return ours is theirs
    return abs(ours - theirs) <= 1e-9 * max(1.0, abs(theirs)) + 1e-12


def disagreements(record, given, month=None):
    """Differences for one record and a settings dict."""
    settings = from_dict(given)
    db = database_of(record)
    try:
        return differences(pipeline_results(db, settings, month), reference.results(record, settings, month))
    finally:
        db.close()
