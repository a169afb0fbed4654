"""Rows of a clinic for the tests of the checks; times in UTC, so that both clocks agree."""

from pipeline import schema

SETTINGS = {
    "zone": "UTC",
    "absorbent": {"minutes_per_mark": 30},
    "items": {
        "methadone 10 mg/mL": {"drug": "methadone", "concentration_mg_ml": 10, "pack_ml": 10, "control": "2"},
        "propofol 10 mg/mL": {"drug": "propofol", "concentration_mg_ml": 10, "pack_ml": 20},
    },
}


def empty_clinic(db) -> None:
    """The canonical tables and one loaded file, without rows."""
    for table in schema.TABLES.values():
        db.execute(schema.create_table(table))
    db.execute(
        "CREATE TABLE files AS SELECT CAST(1 AS BIGINT) AS file_id, 'records.csv' AS name, "
        "TIMESTAMP '2026-01-31 18:00' AS loaded_at"
    )


def fill_clocks(db) -> None:
    """Every second clock from the local one, as intake does in UTC; rows without a place get one."""
    for table in schema.TABLES.values():
        clocks = [column.name for column in table.columns if column.kind == "time"]
        sets = [f'"{name}_s" = CAST(floor(epoch("{name}")) AS BIGINT)' for name in clocks]
        db.execute(
            f"UPDATE {table.name} SET {', '.join([*sets, 'source_file = 1'])}, "
            "source_row = coalesce(source_row, rowid + 2)"
        )
