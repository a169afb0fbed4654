"""Faults of readings and events, one a rule."""

from fault_words import CALM, MOVING, PRESSURES, alone, case, one, put, reading, twice

from pipeline import schema

FAULTS: dict[str, str | list[str]] = {
    "vitals_case_id_present": reading("agent_insp", "case_id = NULL"),
    "vitals_taken_at_present": reading("agent_insp", "taken_at = NULL"),
    "vitals_parameter_present": reading("agent_insp", "parameter = NULL"),
    "vitals_parameter_code": reading("agent_insp", "parameter = 'dragon'"),
    "vitals_key": twice("vitals", "case_id = {dog} AND parameter = 'spo2'"),
    "vitals_case_known": reading("agent_insp", "case_id = 'nobody'"),
    "vitals_not_in_future": reading("agent_insp", "taken_at = taken_at + to_years(9)"),
    "vitals_value_filled": reading("agent_insp", "value = NULL"),
    **{
        f"vitals_{name}_plausible": alone(name, 999) if name in PRESSURES else reading(name, "value = 9999")
        for name in schema.PARAMETERS
    },  # fmt: skip
    "vitals_temperature_plausible": put("vitals", "value = 20", "case_id = {dog} AND parameter = 'temperature'"),
    "vitals_temperature_fahrenheit": put("vitals", "value = 99.7", "case_id = {dog} AND parameter = 'temperature'"),
    "vitals_spo2_fraction": reading("spo2", "value = 0.97"),
    "vitals_in_case": reading("agent_insp", "taken_at = taken_at + to_hours(30)"),
    "vitals_alive": case("outcome = 'died', outcome_at = induction_at + to_minutes(30)"),
    "vitals_dial_off": [
        "INSERT INTO vitals (case_id, taken_at, parameter, value) SELECT case_id, vaporizer_off_at + to_seconds(680), "
        "'vaporizer_setting', 1.5 FROM cases WHERE case_id = {dog}",
    ],
    "vitals_gap_10": "DELETE FROM vitals WHERE case_id = {dog} AND parameter = 'heart_rate' AND taken_at BETWEEN "
    "(SELECT induction_at + to_minutes(18) FROM cases WHERE case_id = {dog}) AND "
    "(SELECT induction_at + to_minutes(32) FROM cases WHERE case_id = {dog})",
    "vitals_gap_5": "DELETE FROM vitals WHERE " + one("vitals", MOVING),
    "vitals_recovery_gap": "DELETE FROM vitals WHERE case_id = {dog} AND taken_at > (SELECT sternal_at FROM cases "
    "WHERE case_id = {dog})",
    "vitals_copied_forward": "UPDATE vitals SET value = 112 WHERE case_id = {dog} AND parameter = 'heart_rate' AND "
    "taken_at BETWEEN (SELECT induction_at + to_minutes(8) FROM cases WHERE case_id = {dog}) AND "
    "(SELECT induction_at + to_minutes(48) FROM cases WHERE case_id = {dog})",
    "vitals_last_digit": "UPDATE vitals SET value = 110 + 10 * (minute(taken_at) // 5 % 4) WHERE month(taken_at) = 1 "
    "AND parameter = 'heart_rate'",
    "vitals_whole_degrees": "UPDATE vitals SET value = floor(value) WHERE month(taken_at) = 1 "
    "AND parameter = 'temperature'",
    "vitals_pressure_order": reading("map", "value = 240"),
    "vitals_mean_pressure": [
        *alone("dap", 40)[:1],
        *(
            f"UPDATE vitals SET value = {value} WHERE case_id = {{dog}} AND parameter = '{name}' "
            "AND taken_at = (SELECT at_moment FROM moment)"
            for name, value in (("sap", 130), ("map", 125), ("dap", 60))
        ),
    ],
    "vitals_etco2_unit": [
        "UPDATE vitals SET value = 6 WHERE case_id = {dog} AND parameter = 'etco2'",
        "INSERT INTO events (case_id, event, occurred_at, severity) "
        "SELECT case_id, 'hyperventilation', procedure_end_at, 'minor' FROM cases WHERE case_id = {dog}",
    ],
    "vitals_no_co2": "UPDATE vitals SET value = 0 WHERE case_id = {dog} AND parameter = 'etco2' AND taken_at BETWEEN "
    "(SELECT induction_at + to_minutes(18) FROM cases WHERE case_id = {dog}) AND "
    "(SELECT induction_at + to_minutes(38) FROM cases WHERE case_id = {dog})",
    "vitals_temperature_dip": "INSERT INTO vitals (case_id, taken_at, parameter, value) SELECT case_id, "
    "min(taken_at) + to_seconds(unnest([70, 140])), 'temperature', arg_min(value, taken_at) - unnest([3, 0]) "
    "FROM vitals WHERE case_id = {dog} AND parameter = 'temperature' AND value > 35 GROUP BY case_id",
    "vitals_line_flush": [
        *alone("map", 240),
        "INSERT INTO vitals (case_id, taken_at, parameter, value) SELECT {dog}, at_moment + to_seconds(30), 'map', 5 "
        "FROM moment",
    ],
    "vitals_dial_has_flow": "UPDATE vitals SET value = 0 WHERE case_id = {dog} AND parameter = 'o2_flow'",
    "vitals_inhalant_has_dial": "DELETE FROM vitals WHERE case_id = {dog} AND parameter = 'vaporizer_setting'",
    "events_case_id_present": put("events", "case_id = NULL", CALM),
    "events_event_present": put("events", "event = NULL", CALM),
    "events_case_known": put("events", "case_id = 'nobody'", CALM),
    "events_not_in_future": put("events", "occurred_at = occurred_at + to_years(9), resolved_at = NULL", CALM),
    "events_event_code": put("events", "event = 'dragon'", CALM),
    "events_severity_code": put("events", "severity = 'dragon'", CALM),
    "events_phase_code": put("events", "phase = 'dragon'", CALM),
    "events_occurred_at_filled": put("events", "occurred_at = NULL", CALM),
    "events_severity_filled": put("events", "severity = NULL", CALM),
    "events_resolved_after_occurred": put("events", "resolved_at = occurred_at - to_minutes(5)", CALM),
    "events_in_case": put("events", "occurred_at = occurred_at - to_days(9)", CALM),
    "events_sign_seen": "INSERT INTO events (case_id, event, occurred_at, severity) SELECT case_id, 'hypoxemia', "
    "procedure_start_at, 'minor' FROM cases WHERE case_id = {dog}",
    "events_sign_charted": "UPDATE vitals SET value = 92 WHERE case_id = {dog} AND parameter = 'spo2' AND taken_at "
    "BETWEEN (SELECT induction_at + to_minutes(18) FROM cases WHERE case_id = {dog}) AND "
    "(SELECT induction_at + to_minutes(38) FROM cases WHERE case_id = {dog})",
    "events_twice": twice("events", CALM),
    "events_every_month": "DELETE FROM events WHERE case_id IN (SELECT case_id FROM cases WHERE year(induction_at) = "
    "2025 AND month(induction_at) = 9)",
}
