"""One fault for each rule, and which other rules say the same from another side."""

import faults_books
import faults_cases
import faults_readings
from fault_words import case, put

from pipeline import schema
from pipeline.checks.catalogue import Rule

FAULTS = faults_cases.FAULTS | faults_readings.FAULTS | faults_books.FAULTS

# Other rules that speak of the same fault from another side: they may fire with it, no others may.
ALSO: dict[str, set[str]] = {
    "cases_key": {"cases_machine_overlap"},
    "cases_not_in_future": {"vitals_not_in_future", "drugs_not_in_future", "events_not_in_future"},
    "cases_start_known": {"cases_induction_at_filled", "cases_intubation_at_filled", "cases_vaporizer_on_at_filled"},
    "cases_end_known": {"cases_extubation_at_filled", "cases_vaporizer_off_at_filled"},
    "cases_length_plausible": {"vitals_gap_10", "vitals_recovery_gap", "equipment_marks_fit_hours"},
    "cases_time_not_midnight": {"vitals_gap_10", "drugs_premedication_first", "equipment_leak_tested_before"},
    "cases_asa_by_person": {"cases_asa_class_filled"},
    "cases_asa_drift_by_person": {"cases_asa_class_filled"},
    "cases_have_readings": {"vitals_gap_10", "vitals_recovery_gap"},
    "cases_machine_known": {"equipment_leak_tested", "equipment_marks_fit_hours"},
    "cases_machine_id_filled": {"equipment_marks_fit_hours"},
    "cases_breathing_system_filled": {"equipment_marks_fit_hours"},
    "cases_breathing_system_code": {"equipment_marks_fit_hours"},
    "cases_system_fits_weight": {"equipment_marks_fit_hours"},
    "cases_weight_kg_plausible": {"events_sign_seen", "events_sign_charted"},
    "cases_weight_kg_filled": {"events_sign_seen", "events_sign_charted"},
    "cases_recovery_end_at_filled": {"vitals_in_case"},
    "cases_recovery_end_after_extubation": {"vitals_in_case"},
    "cases_recovery_end_after_standing": {"vitals_in_case"},
    "cases_length_above_zero": {"equipment_marks_fit_hours"},
    "vitals_etco2_unit": {"events_sign_seen"},
    "cases_patient_overlap": {"vitals_gap_5", "vitals_gap_10", "vitals_recovery_gap"},
    "cases_times_exact": {"vitals_gap_5", "vitals_gap_10"},
    "cases_month_quarantined": {"files_mended"},
    "vitals_line_flush": {"vitals_map_plausible"},
    "drugs_volume_has_strength": {"drugs_has_band"},
    "stock_not_in_future": {"stock_quantity_filled"},
}

# Faults of a whole table, month or person, which leave no room for another in the same clinic.
ALONE = {
    "cases_present", "vitals_present", "drugs_present", "events_present", "equipment_present", "stock_present",
    "cases_not_in_future", "cases_species_code", "cases_asa_by_person", "cases_asa_drift_by_person",
    "cases_times_exact",
    "cases_length_plausible", "cases_time_not_midnight", "vitals_last_digit", "vitals_whole_degrees",
    "events_every_month", "equipment_marks_fit_hours", "stock_count_not_short", "stock_count_not_over",
    "cases_have_readings", "cases_have_drugs", "cases_extubation_after_induction", "cases_case_id_present",
    "drugs_premedication_first", "cases_machine_overlap", "cases_patient_overlap", "cases_twice", "cases_key",
}  # fmt: skip

SETTINGS_FAULTS = {"equipment_minutes_per_mark": {"absorbent": {}}}


def statements(rule: Rule) -> list[str]:
    """The fault of a rule: written above, or for a plain column made from the rule's own word."""
    if rule.id in FAULTS:
        given = FAULTS[rule.id]
        return [given] if isinstance(given, str) else given
    if rule.table == "cases" and rule.rule in ("filled", "codes"):
        numeric = schema.TABLES["cases"].column(rule.columns[0]).kind == "integer"
        value = "NULL" if rule.rule == "filled" else "9" if numeric else "'dragon'"
        return [case(f"{rule.columns[0]} = {value}")]
    if rule.rule == "codes" or rule.table == "stock":
        return [put(rule.table, f"{rule.columns[0]} = 'dragon'", "TRUE")]
    raise KeyError(f"no fault for {rule.id}")
