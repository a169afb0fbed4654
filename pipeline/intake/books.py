"""The pipeline's own tables beside the record: files, quarantine, replaced rows, notes; made if they are missing."""

from pipeline import schema
from pipeline.intake.grid import Note

COUNTS = ("rows_read", "rows_new", "rows_unchanged", "rows_replaced", "rows_quarantined", "rows_set_aside")

TABLES = {
    # One row a file (or a sheet of it). lines = rows_read + rows_set_aside;
    # rows_read = rows_new + rows_unchanged + rows_replaced + rows_quarantined, always.
    # rows_replaced: rows that took an earlier row's place, and once quarantined rows whose place a mended row took.
    "files": """file_id BIGINT, name VARCHAR, part VARCHAR, sha256 VARCHAR, bytes BIGINT, loaded_at TIMESTAMP,
      table_name VARCHAR, mapping VARCHAR, encoding VARCHAR, "separator" VARCHAR, decimal_sign VARCHAR, facts VARCHAR,
      lines BIGINT, rows_read BIGINT, rows_new BIGINT, rows_unchanged BIGINT, rows_replaced BIGINT,
      rows_quarantined BIGINT, rows_set_aside BIGINT""",
    "quarantine": """file_id BIGINT, name VARCHAR, "row" BIGINT, table_name VARCHAR, case_id VARCHAR,
      column_name VARCHAR, value VARCHAR, rule VARCHAR, reason VARCHAR, raw VARCHAR, proposal VARCHAR,
      month_no BIGINT, site VARCHAR""",
    # Keys a quarantined row would have had: a later row with the key takes its place.
    "quarantine_keys": """file_id BIGINT, "row" BIGINT, table_name VARCHAR, case_id VARCHAR, key VARCHAR""",
    "replaced_rows": """table_name VARCHAR, file_id BIGINT, "row" BIGINT, replaced_by_file BIGINT,
      replaced_at TIMESTAMP, raw VARCHAR""",
    "load_notes": """file_id BIGINT, name VARCHAR, rule VARCHAR, class VARCHAR, column_name VARCHAR, n BIGINT,
      sentence VARCHAR, example_1 VARCHAR, example_2 VARCHAR""",
    # Cells kept as unknown or flagged (class W), one row each: the row itself is loaded.
    "flagged_cells": """file_id BIGINT, name VARCHAR, "row" BIGINT, table_name VARCHAR, case_id VARCHAR,
      column_name VARCHAR, value VARCHAR, rule VARCHAR, reason VARCHAR, proposal VARCHAR""",
    "fix_sheets": "name VARCHAR, sha256 VARCHAR",
}


def waiting(table: str) -> str:
    """Name of the table that holds a child table's typed rows until their case is loaded."""
    return f"waiting_{table}"


def prepare(db) -> None:
    """Makes every table intake writes, if it is not there."""
    for table in schema.TABLES.values():
        db.execute(schema.create_table(table))
    for table in schema.CHILD_TABLES:
        db.execute(schema.create_table(schema.TABLES[table], waiting(table)))
    for name, columns in TABLES.items():
        db.execute(f"CREATE TABLE IF NOT EXISTS {name} ({columns})")


def write_notes(db, file_id: int, name: str, notes: list[Note]) -> None:
    rows = [
        (file_id, name, n.rule, n.kind, n.column, n.count, n.sentence, *(n.examples + (None, None))[:2]) for n in notes
    ]
    if rows:
        db.executemany("INSERT INTO load_notes VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)
