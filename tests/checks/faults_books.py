"""Faults of drugs, the equipment log, the store's book and the files, one a rule."""

from fault_words import (
    CLEANED,
    EXTRA_ROW,
    HYPNOTIC,
    LAST_COUNT,
    OPENED,
    QUARANTINED,
    RECEIVED,
    RUNNING,
    SECOND_WEIGHT,
    SMALL,
    UNWASTED,
    WASTED,
    one,
    put,
    twice,
)

FAULTS: dict[str, str | list[str]] = {
    "files_add_up": "UPDATE files SET lines = lines + 1 WHERE file_id = 1",
    "files_mended": QUARANTINED.format("drugs", "NULL", 1),
    **{f"{name}_present": f"DELETE FROM {name}" for name in ("vitals", "drugs", "events", "equipment", "stock")},
    "drugs_case_id_present": put("drugs", "case_id = NULL", SMALL),
    "drugs_drug_present": put("drugs", "drug = NULL", SMALL),
    "drugs_case_known": put("drugs", "case_id = 'nobody'", SMALL),
    "drugs_not_in_future": put("drugs", "given_at = given_at + to_years(9)", SMALL),
    "drugs_kind_code": put("drugs", "kind = 'dragon'", SMALL),
    "drugs_phase_code": put("drugs", "phase = 'dragon'", SMALL),
    "drugs_amount_unit_code": put("drugs", "amount_unit = 'dragon'", SMALL),
    **{
        f"drugs_{name}_filled": put("drugs", f"{name} = NULL", SMALL)
        for name in ("kind", "phase", "route", "given_at", "amount", "amount_unit")
    },  # fmt: skip
    "drugs_given_by_filled": put("drugs", "given_by = NULL", WASTED),
    "drugs_stopped_after_given": put("drugs", "stopped_at = given_at - to_minutes(1)", RUNNING),
    "drugs_amount_not_negative": put("drugs", "amount = -amount", SMALL),
    "drugs_unit_fits_kind": put("drugs", "amount_unit = 'mL/h'", SMALL),
    "drugs_volume_has_strength": put("drugs", "drug = 'novel', amount_unit = 'mL', concentration_mg_ml = NULL", SMALL),
    "drugs_has_band": put("drugs", "drug = 'novel'", SMALL),
    "drugs_dose_in_band": put("drugs", "amount = 90, amount_unit = 'mg/kg'", HYPNOTIC),
    "drugs_dose_factor_10": put("drugs", "amount = 40, amount_unit = 'mg/kg'", HYPNOTIC),
    "drugs_dose_factor_1000": put("drugs", "amount = 4000, amount_unit = 'mg/kg'", HYPNOTIC),
    "drugs_local_total": [
        "DELETE FROM drugs WHERE case_id = {dog} AND drug IN ('lidocaine', 'bupivacaine', 'ropivacaine')",
        "INSERT INTO drugs (case_id, drug, kind, phase, route, given_at, amount, amount_unit, given_by) "
        "SELECT case_id, unnest(['lidocaine', 'bupivacaine']), 'bolus', 'maintenance', 'local', procedure_start_at, "
        "unnest([4, 1.5]), 'mg/kg', 'N1' FROM cases WHERE case_id = {dog}",
    ],
    "drugs_local_not_iv": [
        "DELETE FROM drugs WHERE case_id = {dog} AND drug IN ('lidocaine', 'bupivacaine', 'ropivacaine')",
        "INSERT INTO drugs (case_id, drug, kind, phase, route, given_at, amount, amount_unit, given_by) "
        "SELECT case_id, 'bupivacaine', 'bolus', 'maintenance', 'iv', procedure_start_at, 1, 'mg/kg', 'N1' "
        "FROM cases WHERE case_id = {dog}",
    ],
    "drugs_infusion_ends": "UPDATE drugs SET stopped_at = NULL WHERE case_id = {dog} AND kind = 'infusion'",
    "drugs_strength_known": put("drugs", "concentration_mg_ml = concentration_mg_ml * 1.1", SMALL),
    "drugs_twice": twice("drugs", SMALL),
    "drugs_in_case": put("drugs", "given_at = given_at + to_days(3)", SMALL),
    "drugs_wasted_within_drawn": put("drugs", "wasted_ml = drawn_ml + 1", WASTED),
    "drugs_waste_witnessed": put("drugs", "witnessed_by = NULL", WASTED),
    "drugs_controlled_witnessed": put("drugs", "witnessed_by = NULL", UNWASTED),
    "drugs_witness_is_another": put("drugs", "witnessed_by = given_by", WASTED),
    "drugs_premedication_first": "UPDATE drugs SET given_at = (SELECT induction_at + to_minutes(3) FROM cases WHERE "
    "case_id = {dog}) WHERE case_id = {dog} AND phase = 'premedication'",
    "drugs_amount_above_zero": put("drugs", "amount = 0", SMALL),
    "equipment_machine_id_present": put("equipment", "machine_id = NULL", CLEANED),
    "equipment_at_present": put("equipment", "{at} = NULL", CLEANED),
    "equipment_item_present": put("equipment", "item = NULL", CLEANED),
    "equipment_action_present": put("equipment", "action = NULL", CLEANED),
    "equipment_not_in_future": put("equipment", "{at} = {at} + to_years(9)", CLEANED),
    "equipment_item_code": put("equipment", "item = 'dragon'", CLEANED),
    "equipment_action_code": put("equipment", "action = 'dragon'", CLEANED),
    "equipment_value_filled": put("equipment", "value = NULL", SECOND_WEIGHT),
    "equipment_unit_filled": put("equipment", "unit = NULL", SECOND_WEIGHT),
    "equipment_person_filled": put("equipment", "person = NULL", CLEANED),
    "equipment_action_fits_item": put("equipment", "item = 'vaporizer'", SECOND_WEIGHT),
    "equipment_leak_plausible": put("equipment", "value = 9000", "action = 'leak_tested'"),
    "equipment_leak_unit": put("equipment", "unit = 'L/min'", "action = 'leak_tested'"),
    "equipment_weight_unit": put("equipment", "unit = 'kg'", SECOND_WEIGHT),
    "equipment_value_not_negative": put("equipment", "value = -1", CLEANED),
    "equipment_marks_fit_hours": "DELETE FROM equipment WHERE action = 'marked' AND {at} < "
    "(SELECT min({at}) FROM equipment WHERE action = 'marked') + to_days(40)",
    "equipment_canister_gains": put("equipment", "value = 100", SECOND_WEIGHT),
    "equipment_leak_tested": "DELETE FROM equipment WHERE action = 'leak_tested' AND CAST({at} AS DATE) = (SELECT "
    "CAST(induction_at AS DATE) FROM cases WHERE case_id = {dog}) AND machine_id = "
    "(SELECT machine_id FROM cases WHERE case_id = {dog})",
    "equipment_leak_tested_before": "UPDATE equipment SET {at} = {at} + to_hours(10) WHERE action = 'leak_tested' AND "
    "CAST({at} AS DATE) = (SELECT CAST(induction_at AS DATE) FROM cases WHERE case_id = {dog}) AND machine_id = "
    "(SELECT machine_id FROM cases WHERE case_id = {dog})",
    "equipment_case_known": put("equipment", "case_id = 'nobody'", CLEANED),
    "equipment_machine_used": "INSERT INTO equipment (machine_id, {at}, item, action, person) SELECT 'M77', max({at}), "
    "'vaporizer', 'cleaned', 'N1' FROM equipment",
    "equipment_twice": twice("equipment", CLEANED),
    "stock_item_present": put("stock", "item = NULL", OPENED),
    "stock_at_present": put("stock", "{at} = NULL", OPENED),
    "stock_movement_present": put("stock", "movement = NULL", OPENED),
    "stock_not_in_future": "INSERT INTO stock (item, {at}, movement, unit, person) SELECT item, {at} + to_years(9), "
    f"'counted', unit, 'N1' FROM stock WHERE {one('stock', OPENED)}",
    "stock_movement_code": put("stock", "movement = 'dragon'", OPENED),
    "stock_quantity_filled": put("stock", "quantity = NULL", OPENED),
    "stock_unit_filled": put("stock", "unit = NULL", OPENED),
    "stock_expires_on_filled": put("stock", "expires_on = NULL", RECEIVED),
    "stock_lot_filled": put("stock", "lot = NULL", RECEIVED),
    "stock_quantity_not_negative": put("stock", "quantity = -quantity", OPENED),
    "stock_received_in_date": EXTRA_ROW + "SELECT item, {at}, 'received', 0, unit, 'LX', DATE '2020-01-31', 'N1' "
    f"FROM stock WHERE {one('stock', OPENED)}",
    "stock_item_known": put("stock", "item = 'mystery'", OPENED),
    "stock_one_unit": put("stock", "unit = 'packs'", OPENED),
    "stock_count_not_short": LAST_COUNT.replace("SIGN", "-"),
    "stock_count_not_over": LAST_COUNT.replace("SIGN", "+"),
    "stock_opened_in_date": [
        EXTRA_ROW + "SELECT item, {at}, 'received', 0, unit, 'LX', CAST({at} AS DATE) + 30, 'N1' "
        f"FROM stock WHERE {one('stock', OPENED)}",
        EXTRA_ROW + "SELECT item, {at} + to_days(40), 'opened', 1, unit, 'LX', NULL, 'N1' "
        f"FROM stock WHERE {one('stock', OPENED)}",
    ],
    "stock_controlled_counted": EXTRA_ROW
    + "SELECT min(item), min({at}) - to_days(40), 'returned', 0, 'mL', NULL, NULL, "
    "'N1' FROM stock WHERE item LIKE 'methadone%'",
    "stock_twice": twice("stock", OPENED),
}
