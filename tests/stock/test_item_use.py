"""What the records say left each pack: drugs in every unit, gases, oxygen, absorbent, canisters."""

import pytest

CASES = "case_id | species | weight_kg | procedure_group | machine_id | agent | induction_at | extubation_at\n"
DOG = "C1 | dog | 10 | dental | M1 | isoflurane | 2026-03-02 08:00 | 2026-03-02 10:00"
DRUGS = "case_id | drug | kind | given_at | stopped_at | amount | amount_unit | concentration_mg_ml | wasted_ml\n"
FENTANYL = {"fentanyl": {"drug": "fentanyl", "concentration_mg_ml": 0.05, "pack_ml": 10}}


def used(store, items, drugs="", equipment="", vitals="", settings=None, item=None):
    tables = {"cases": CASES + DOG}
    if drugs:
        tables["drugs"] = DRUGS + drugs
    if equipment:
        tables["equipment"] = "machine_id | at | item | action | value | unit\n" + equipment
    if vitals:
        tables["vitals"] = "case_id | taken_at | parameter | value\n" + vitals
    rows = store(items, settings=settings, **tables).rows("item_use")
    return [row["qty"] for row in rows if item is None or row["item"] == item]


# every unit of an amount, for 10 kg, fentanyl 0.05 mg/mL, infusions of two hours; arithmetic
@pytest.mark.parametrize(
    "dose, ml",
    [
        ("bolus | 2026-03-02 08:00 | | 0.1 | mg", 0.1 / 0.05),
        ("bolus | 2026-03-02 08:00 | | 50 | mcg", 0.05 / 0.05),
        ("bolus | 2026-03-02 08:00 | | 1.5 | mL", 1.5),
        ("bolus | 2026-03-02 08:00 | | 0.005 | mg/kg", 0.005 * 10 / 0.05),
        ("bolus | 2026-03-02 08:00 | | 5 | mcg/kg", 5 * 10 / 1000 / 0.05),
        ("infusion | 2026-03-02 08:00 | 2026-03-02 10:00 | 0.01 | mg/kg/h", 0.01 * 10 * 2 / 0.05),
        ("infusion | 2026-03-02 08:00 | 2026-03-02 10:00 | 0.2 | mcg/kg/min", 0.2 * 10 * 120 / 1000 / 0.05),
        ("infusion | 2026-03-02 08:00 | 2026-03-02 10:00 | 5 | mcg/kg/h", 5 * 10 * 2 / 1000 / 0.05),
        ("infusion | 2026-03-02 08:00 | 2026-03-02 10:00 | 2 | mL/h", 2 * 2),
        ("infusion | 2026-03-02 08:00 | 2026-03-02 10:00 | 0.1 | mg/h", 0.1 * 2 / 0.05),
    ],
)
def test_every_unit_of_a_dose(store, dose, ml):
    assert used(store, FENTANYL, f"C1 | fentanyl | {dose} | |") == [pytest.approx(ml)]


def test_a_diluted_syringe_takes_less_from_the_pack_than_it_holds(store):
    # 5 mL of 0.01 mg/mL is 0.05 mg, which is 1 mL of the pack; 1 mL of the dilution wasted is another 0.2
    dose = "C1 | fentanyl | bolus | 2026-03-02 08:00 | | 5 | mL | 0.01 | 1"
    assert used(store, FENTANYL, dose) == [pytest.approx(5 * 0.01 / 0.05 + 1 * 0.01 / 0.05)]


def test_what_was_wasted_left_the_pack_too(store):
    assert used(store, FENTANYL, "C1 | fentanyl | bolus | 2026-03-02 08:00 | | 1.5 | mL | | 0.5") == [1.5 + 0.5]


def test_an_unknown_dose_is_a_row_without_quantity(store):
    assert used(store, FENTANYL, "C1 | fentanyl | bolus | 2026-03-02 08:00 | | | mg | | 0.5") == [None]


def test_of_two_strengths_the_one_the_row_names(store):
    items = {
        "weak": {"drug": "dexmedetomidine", "concentration_mg_ml": 0.1, "pack_ml": 10},
        "strong": {"drug": "dexmedetomidine", "concentration_mg_ml": 0.5, "pack_ml": 10},
    }
    doses = (
        "C1 | dexmedetomidine | bolus | 2026-03-02 08:00 | | 0.1 | mg | 0.5 |\n"
        "C1 | dexmedetomidine | bolus | 2026-03-02 08:00 | | 0.1 | mg | |"
    )
    assert used(store, items, doses, item="strong") == [pytest.approx(0.1 / 0.5)]
    assert used(store, items, doses, item="weak") == []


def test_two_items_of_one_strength_cannot_be_told_apart(store):
    items = {
        "small": {"drug": "fentanyl", "concentration_mg_ml": 0.05, "pack_ml": 2},
        "large": {"drug": "fentanyl", "concentration_mg_ml": 0.05, "pack_ml": 10},
    }
    assert used(store, items, "C1 | fentanyl | bolus | 2026-03-02 08:00 | | 1.5 | mL | 0.05 | 0") == []
    bottles = {"a": {"drug": "isoflurane", "pack_ml": 100}, "b": {"drug": "isoflurane", "pack_ml": 250}}
    assert used(store, bottles, vitals=GAS) == []


GAS = "C1 | 2026-03-02 08:00 | o2_flow | 1\nC1 | 2026-03-02 08:00 | vaporizer_setting | 2"


def test_a_bottle_of_inhalant_and_oxygen_by_the_litre(store):
    items = {
        "isoflurane_250ml": {"drug": "isoflurane", "pack_ml": 250},
        "oxygen_e": {"consumable": "oxygen", "unit": "L", "pack_units": 660},
    }
    assert used(store, items, vitals=GAS, item="isoflurane_250ml") == [pytest.approx(2 * 6.15, abs=0.01)]
    assert used(store, items, vitals=GAS, item="oxygen_e") == [120]


# one flow of 1 L/min over the two hours
@pytest.mark.parametrize(
    "fields, quantity, pack",
    [
        ({"unit": "L", "pack_ml": 660_000}, 120, 660),
        ({"unit": "l", "pack_units": 660}, 120, 660),
        ({"unit": "mL", "pack_ml": 660_000}, 120_000, 660_000),
        ({"pack_ml": 660_000}, 120_000, 660_000),
    ],
)
def test_oxygen_in_the_unit_that_the_settings_name(store, fields, quantity, pack):
    items = {"oxygen_e": {"consumable": "oxygen", **fields}}
    assert used(store, items, vitals=GAS) == [quantity]
    assert [row["pack_size"] for row in store(items).rows("stock_items")] == [pack]


def test_absorbent_by_weight_or_by_the_charge_and_canisters_by_the_piece(store):
    changes = (
        "M1 | 2026-03-02 07:00 | absorbent | changed | 900 | g\n"
        "M1 | 2026-03-03 07:00 | absorbent | changed | |\n"
        "M1 | 2026-03-03 07:00 | scavenging_canister | changed | |"
    )
    grams = {"lime": {"consumable": "absorbent", "unit": "g", "pack_units": 4500}}
    assert sorted(used(store, grams, equipment=changes, settings={"absorbent": {"grams": 1000}})) == [900, 1000]
    assert used(store, grams, equipment=changes) == [900, None]
    charges = {"lime": {"consumable": "absorbent", "unit": "piece", "pack_units": 1}}
    assert used(store, charges, equipment=changes) == [1, 1]
    canisters = {"charcoal": {"consumable": "scavenging_canister", "unit": "each", "pack_units": 8}}
    assert used(store, canisters, equipment=changes) == [1]
