"""Faults of cases and of people's parts in them, one a rule."""

from fault_words import NO_GAS, QUARANTINED, TIMES, T, case, copy_case, move_case, one, put, twice

from pipeline import schema

FAULTS: dict[str, str | list[str]] = {
    "cases_present": [f"DELETE FROM {name}" for name in schema.TABLES],
    "cases_case_id_present": [
        *(f"DELETE FROM {name} WHERE case_id = {{dog}}" for name in ("case_people", "vitals", "drugs", "events")),
        "UPDATE equipment SET case_id = NULL WHERE case_id = {dog}",
        case("case_id = NULL"),
    ],
    "cases_key": twice("cases", "case_id = {dog}"),
    "cases_species_code": "UPDATE cases SET species = 'dragon' WHERE patient_id = "
    "(SELECT patient_id FROM cases WHERE case_id = {dog})",
    "cases_weight_kg_plausible": case("weight_kg = 400, patient_id = 'alone'"),
    "cases_age_years_plausible": case("age_years = 50"),
    "cases_fasting_hours_plausible": case("fasting_hours = 100"),
    "cases_bag_ml_plausible": case("bag_ml = 2"),
    "cases_tube_id_mm_plausible": case("tube_id_mm = 32"),
    "cases_not_in_future": move_case(7),
    "cases_not_ancient": move_case(-45),
    "cases_start_known": case("induction_at = NULL, intubation_at = NULL, vaporizer_on_at = NULL"),
    "cases_end_known": case("extubation_at = NULL, vaporizer_off_at = NULL"),
    "cases_induction_after_premed": case(f"premed_at = {T.format(1)}"),
    "cases_induction_after_preoxygenation_start": case(f"preoxygenation_start_at = {T.format(1)}"),
    "cases_intubation_after_induction": case(f"intubation_at = {T.format(-1)}"),
    "cases_vaporizer_off_after_vaporizer_on": case("vaporizer_on_at = vaporizer_off_at + to_minutes(1)"),
    "cases_procedure_start_after_induction": case(f"procedure_start_at = {T.format(-1)}"),
    "cases_procedure_end_after_procedure_start": case("procedure_end_at = procedure_start_at - to_minutes(1)"),
    "cases_extubation_after_intubation": case("intubation_at = extubation_at + to_minutes(1)"),
    "cases_extubation_after_vaporizer_off": case("vaporizer_off_at = extubation_at + to_minutes(1)"),
    "cases_extubation_after_ventilator_off": case("ventilator_off_at = extubation_at + to_minutes(1)"),
    "cases_extubation_after_spontaneous_breathing": case("spontaneous_breathing_at = extubation_at + to_minutes(1)"),
    "cases_extubation_after_induction": case(
        "induction_at = extubation_at + to_minutes(1), intubation_at = NULL, airway = 'mask', "
        "procedure_start_at = extubation_at + to_minutes(2), procedure_end_at = extubation_at + to_minutes(3)"
    ),
    "cases_sternal_after_extubation": case("sternal_at = extubation_at - to_minutes(1)"),
    "cases_standing_after_sternal": case("sternal_at = standing_at + to_minutes(1)"),
    "cases_recovery_end_after_extubation": case("recovery_end_at = extubation_at - to_minutes(1)"),
    "cases_recovery_end_after_standing": case("recovery_end_at = standing_at - to_minutes(1)"),
    "cases_length_above_zero": [
        "UPDATE vitals SET value = 0 WHERE case_id = {dog} AND parameter = 'vaporizer_setting'",
        case(", ".join(f"{name} = induction_at" for name in TIMES[3:11])),
    ],
    "cases_length_plausible": case(", ".join(f"{name} = {name} + to_hours(17)" for name in TIMES[7:14])),
    "cases_time_not_midnight": case(
        "induction_at = CAST(induction_at AS DATE), premed_at = NULL, preoxygenation_start_at = NULL"
    ),  # fmt: skip
    "cases_outcome_after_start": case(f"outcome_at = {T.format(-600)}"),
    "cases_death_has_time": case("outcome = 'euthanised', outcome_at = NULL"),
    "cases_followed_after_end": case("followed_until = induction_at"),
    "cases_trainee_supervised": case("trainee = 'T1', trainee_role = 'primary', supervisor = NULL"),
    "cases_supervisor_is_another": case("trainee = supervisor, trainee_role = 'primary'"),
    "cases_trainee_has_role": case("trainee = 'T1', trainee_role = NULL"),
    "cases_system_fits_weight": put(
        "cases", "breathing_system = 'non_rebreathing'", "weight_kg > 16 AND breathing_system = 'rebreathing'"
    ),
    "cases_machine_overlap": copy_case("X1", 0, "patient_id = 'alone'"),
    "cases_patient_overlap": copy_case("X1", 5, NO_GAS),
    "cases_twice": copy_case("X1", 0, NO_GAS),
    "cases_weight_stable": case("weight_kg = weight_kg * 1.3", "{last_dog}"),
    "cases_weight_factor_10": [
        case("weight_kg = weight_kg / 10", "{last_dog}"),
        "UPDATE drugs SET amount = amount / 10 WHERE case_id = {last_dog} AND amount_unit IN ('mg', 'mcg', 'mL', "
        "'mL/h', 'mg/h')",
    ],
    "cases_patient_one_species": case("species = 'rabbit'", "{last_cat}"),
    "cases_patient_one_sex": case("sex = CASE WHEN sex LIKE 'f%' THEN 'male' ELSE 'female' END", "{last_cat}"),
    "cases_asa_by_person": "UPDATE cases SET asa_class = NULL WHERE anesthetist = (SELECT anesthetist FROM cases "
    "WHERE case_id = {dog}) AND CAST(right(case_id, 1) AS INTEGER) < 3",
    "cases_asa_drift_by_person": "UPDATE cases SET asa_class = 5 WHERE anesthetist = (SELECT anesthetist FROM cases "
    "WHERE case_id = {dog}) AND induction_at > (SELECT max(induction_at) FROM cases) - to_days(90)",
    "cases_have_readings": "DELETE FROM vitals WHERE case_id = {dog}",
    "cases_have_drugs": "DELETE FROM drugs WHERE case_id = {dog}",
    "cases_machine_known": case("machine_id = 'M9'"),
    "cases_times_exact": "UPDATE cases SET induction_at = time_bucket(INTERVAL 15 MINUTE, induction_at), "
    "preoxygenation_start_at = NULL WHERE month(induction_at) = 1",
    "cases_month_quarantined": QUARANTINED.format(
        "cases", "(SELECT year(max(induction_at)) * 12 + month(max(induction_at)) - 1 FROM cases)", 40
    ),  # fmt: skip
    "cases_outcome_fits_events": "INSERT INTO events (case_id, event, occurred_at, severity) SELECT case_id, 'death', "
    "extubation_at, 'severe' FROM cases WHERE case_id = {dog}",
    "cases_agent_fits_dial": case("agent = 'none'"),
    "case_people_case_id_present": put("case_people", "case_id = NULL", "role = 'assisting'"),
    "case_people_person_present": put("case_people", "person = NULL", "role = 'assisting'"),
    "case_people_role_present": put("case_people", "role = NULL", "role = 'assisting'"),
    "case_people_role_code": put("case_people", "role = 'dragon'", "role = 'assisting'"),
    "case_people_case_known": put("case_people", "case_id = 'nobody'", "role = 'assisting'"),
    "case_people_key": twice("case_people", "role = 'assisting'"),
    "case_people_to_after_from": put("case_people", "to_at = from_at - to_minutes(5)", "role = 'assisting'"),
    "case_people_in_case": put("case_people", "from_at = from_at - to_days(2)", "role = 'assisting'"),
    "case_people_supervises_another": "INSERT INTO case_people SELECT * REPLACE ('assisting' AS role) "
    "FROM case_people WHERE " + one("case_people", "role = 'supervising'"),
}
