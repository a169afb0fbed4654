"""The lists of the stock report as tables of the database."""

from pipeline import database

TABLES = {
    # one row an item and complete month; missing: closed, out of stock, or NULL
    "item_demand": {
        "item": "VARCHAR",
        "base_unit": "VARCHAR",
        "month_no": "BIGINT",
        "month": "VARCHAR",
        "demand": "DOUBLE",
        "charted": "DOUBLE",
        "packs_opened": "DOUBLE",
        "discarded": "DOUBLE",
        "missing": "VARCHAR",
    },
    # one row an item and month ahead; mean and ranges in base_unit
    "forecasts": {
        "item": "VARCHAR",
        "base_unit": "VARCHAR",
        "month_no": "BIGINT",
        "month": "VARCHAR",
        "ahead": "BIGINT",
        "mean": "DOUBLE",
        "low_80": "DOUBLE",
        "high_80": "DOUBLE",
        "low_95": "DOUBLE",
        "high_95": "DOUBLE",
    },
    # one row an item: the method, how good it was, and where its demand comes from
    "forecast_methods": {
        "item": "VARCHAR",
        "method": "VARCHAR",
        "why": "VARCHAR",
        "origins": "BIGINT",
        "errors": "BIGINT",
        "mase": "DOUBLE",
        "naive_mase": "DOUBLE",
        "next_best": "VARCHAR",
        "next_mase": "DOUBLE",
        "held_80": "BIGINT",
        "judged_80": "BIGINT",
        "held_95": "BIGINT",
        "judged_95": "BIGINT",
        "months_known": "BIGINT",
        "months_missing": "BIGINT",
        "demand_from": "VARCHAR",
        "shelf_ratio": "DOUBLE",
        "shelf_factor": "DOUBLE",
        "shelf_said": "VARCHAR",
    },
    # one row an item: what to order and when; quantities in base_unit, packs whole
    "order_sheet": {
        "item": "VARCHAR",
        "base_unit": "VARCHAR",
        "pack_size": "DOUBLE",
        "as_of": "DATE",
        "on_hand": "DOUBLE",
        "estimated": "BOOLEAN",
        "days_left": "DOUBLE",
        "order_point": "DOUBLE",
        "lead_mean": "DOUBLE",
        "lead_sd": "DOUBLE",
        "lead_days": "DOUBLE",
        "service_level": "DOUBLE",
        "due": "BOOLEAN",
        "order_by": "DATE",
        "packs": "BIGINT",
        "cost": "DOUBLE",
        "why": "VARCHAR",
    },
    # one row an item and service level: what it ties up
    "order_what_if": {
        "item": "VARCHAR",
        "service_level": "DOUBLE",
        "chosen": "BOOLEAN",
        "order_point": "DOUBLE",
        "average_packs": "DOUBLE",
        "money": "DOUBLE",
    },
    # one row an item and lot that expires soon, or has
    "expiring_lots": {
        "item": "VARCHAR",
        "base_unit": "VARCHAR",
        "lot": "VARCHAR",
        "expires_on": "DATE",
        "days": "BIGINT",
        "left_qty": "DOUBLE",
        "unused_qty": "DOUBLE",
        "unused_packs": "DOUBLE",
        "unused_money": "DOUBLE",
    },
}


FITS = {"key": "VARCHAR", "ahead_1": "DOUBLE", "ahead_2": "DOUBLE", "ahead_3": "DOUBLE"}
"""One row a fitted forecast (pipeline.forecasting.kept), exact."""


def fits(db) -> dict[str, tuple]:
    """The fitted forecasts of the last run by key."""
    if "kept_fits" not in database.tables(db):
        return {}
    return {key: ahead for key, *ahead in db.execute("FROM kept_fits").fetchall()}


def write_fits(db, used: dict[str, tuple]) -> None:
    """Keeps the fits that this run asked for, and no others."""
    database.write_rows(db, "kept_fits", FITS, [(key, *ahead) for key, ahead in used.items()])


def write(db, rows: dict[str, list[tuple]]) -> None:
    """Replaces every list; one without rows is written empty. Numbers are rounded to 9 decimals, as in results."""
    for name, columns in TABLES.items():
        rounded = [tuple(_rounded(value) for value in row) for row in rows.get(name, ())]
        database.write_rows(db, name, columns, rounded)


def _rounded(value):
    return round(value, 9) if isinstance(value, float) else value
