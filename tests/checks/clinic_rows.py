"""Rows of a clinic for the tests of the checks; times in UTC, so that both clocks agree."""

from pathlib import Path

from pipeline import schema

SETTINGS = {
    "zone": "UTC",
    "absorbent": {"minutes_per_mark": 30},
    "items": {
        "methadone_10ml": {"drug": "methadone", "concentration_mg_ml": 10, "pack_ml": 10, "control": "2"},
        "propofol_20ml": {"drug": "propofol", "concentration_mg_ml": 10, "pack_ml": 20},
    },
}


def empty_clinic(db) -> None:
    """The canonical tables and one loaded file, without rows."""
    for table in schema.TABLES.values():
        db.execute(schema.create_table(table))
    db.execute(
        "CREATE TABLE files AS SELECT CAST(1 AS BIGINT) AS file_id, 'records.csv' AS name, '' AS part, "
        "TIMESTAMP '2026-02-28 18:00' AS loaded_at, 9000 AS lines, 9000 AS rows_read, 9000 AS rows_new, "
        "0 AS rows_unchanged, 0 AS rows_replaced, 0 AS rows_quarantined, 0 AS rows_set_aside"
    )
    db.execute(
        "CREATE TABLE quarantine (file_id BIGINT, name VARCHAR, row BIGINT, table_name VARCHAR, case_id VARCHAR, "
        "column_name VARCHAR, value VARCHAR, rule VARCHAR, reason VARCHAR, raw VARCHAR, proposal VARCHAR, "
        "month_no BIGINT, site VARCHAR)"
    )


def sound_clinic(db) -> None:
    """empty_clinic with the rows of sound_clinic.sql."""
    empty_clinic(db)
    db.execute((Path(__file__).parent / "sound_clinic.sql").read_text(encoding="utf-8"))
    fill_clocks(db)


def fill_clocks(db) -> None:
    """Every second clock from the local one, as intake does in UTC; rows without a place get one."""
    for table in schema.TABLES.values():
        clocks = [column.name for column in table.columns if column.kind == "time"]
        sets = [f'"{name}_s" = CAST(floor(epoch("{name}")) AS BIGINT)' for name in clocks]
        db.execute(
            f"UPDATE {table.name} SET {', '.join([*sets, 'source_file = coalesce(source_file, 1)'])}, "
            "source_row = coalesce(source_row, rowid + 2)"
        )
