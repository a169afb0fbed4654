"""What the invented clinic keeps in its store, as clinic.toml states it."""

from pipeline.simulate.formulary import DRUGS


def _items() -> dict[str, dict]:
    """Items by name: drugs from the formulary, then what the machines use."""
    items = {}
    for name, drug in DRUGS.items():
        fields = {"drug": name, "concentration_mg_ml": drug.mg_ml, "pack_ml": drug.pack_ml, "unit": "mL",
                  "lead_days": drug.lead_days, "service_level": 0.98 if drug.control else 0.95, "shelf_days": 540,
                  "price": drug.price, "control": drug.control}  # fmt: skip
        fields["open_days"] = drug.open_days or 1  # single-use packs are good for the day
        items[f"{name}_{drug.pack_ml:g}ml"] = fields
    gas = {"unit": "mL", "pack_ml": 250, "lead_days": 6, "service_level": 0.98, "shelf_days": 900}
    items["isoflurane_250ml"] = {"drug": "isoflurane", **gas, "price": 55}
    items["sevoflurane_250ml"] = {"drug": "sevoflurane", **gas, "price": 130}
    more = {"service_level": 0.95, "lead_days": 7}
    items["absorbent_4500g"] = {
        "consumable": "absorbent",
        "unit": "g",
        "pack_units": 4500,
        **more,
        "shelf_days": 1000,
        "price": 38,
    }
    items["scavenging_canister"] = {
        "consumable": "scavenging_canister",
        "unit": "each",
        "pack_units": 8,
        **more,
        "price": 96,
    }
    items["oxygen_cylinder"] = {
        "consumable": "oxygen_cylinder",
        "unit": "each",
        "pack_units": 1,
        **more,
        "lead_days": 3,
        "price": 45,
    }
    return items


ITEMS = _items()
ITEM_OF_DRUG = {fields["drug"]: name for name, fields in ITEMS.items() if "drug" in fields}
