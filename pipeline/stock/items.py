"""The clinic's stock items, as a table the models of sql/models/50_stock/ read."""

from pipeline.database import write_rows
from pipeline.settings import Settings

COLUMNS = {
    "item": "VARCHAR",
    "drug": "VARCHAR",
    "consumable": "VARCHAR",
    "concentration_mg_ml": "DOUBLE",
    "pack_ml": "DOUBLE",
    "item_unit": "VARCHAR",
    "pack_units": "DOUBLE",
    "lead_days": "DOUBLE",
    "service_level": "DOUBLE",
    "minimum": "DOUBLE",
    "shelf_days": "DOUBLE",
    "open_days": "DOUBLE",
    "price": "DOUBLE",
    "control": "VARCHAR",
}


def write_items(db, settings: Settings) -> None:
    """Writes seed_stock_items from clinic.toml [items]. item_unit is the setting `unit`; minimum is in it."""
    rows = [
        (name, *(getattr(item, "unit" if column == "item_unit" else column) for column in list(COLUMNS)[1:]))
        for name, item in settings.items.items()
    ]
    write_rows(db, "seed_stock_items", COLUMNS, rows)
