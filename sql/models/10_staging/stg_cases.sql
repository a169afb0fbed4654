-- stg_cases: the anesthetics under our names, with integer clocks and the first usable start.
--
-- Grain   one row an anesthetic
-- Reads   cases, seed_plausibility, set_aside_rows
-- Units   *_s seconds of UTC since 1970; weight_kg kg; start_month_no year x 12 + month - 1, local
-- Source  bounds of weight are rows of seed_plausibility
--
-- Rules
--   Start is the first of induction, intubation, vaporizer on that is known, not the earliest.
--   A weight outside the species' bounds is unknown; a species without bounds keeps what is charted.

SELECT
    cases.case_id,
    cases.site,
    cases.patient_id,
    cases.species,
    cases.breed,
    cases.sex,
    cases.age_years,
    CASE WHEN cases.weight_kg < bounds.low OR cases.weight_kg > bounds.high THEN NULL ELSE cases.weight_kg END AS weight_kg,
    cases.asa_class,
    cases.emergency,
    cases.procedure,
    cases.procedure_group,
    cases.anesthetist,
    cases.supervisor,
    cases.trainee,
    cases.trainee_role,
    cases.machine_id,
    cases.breathing_system,
    cases.bag_ml,
    cases.ventilation,
    cases.airway,
    cases.tube_id_mm,
    cases.agent,
    cases.techniques,
    cases.warming,
    cases.premed_at_s AS premed_s,
    cases.preoxygenation_start_at_s AS preoxygenation_start_s,
    cases.induction_at_s AS induction_s,
    cases.intubation_at_s AS intubation_s,
    cases.vaporizer_on_at_s AS vaporizer_on_s,
    cases.procedure_start_at_s AS procedure_start_s,
    cases.procedure_end_at_s AS procedure_end_s,
    cases.vaporizer_off_at_s AS vaporizer_off_s,
    cases.ventilator_off_at_s AS ventilator_off_s,
    cases.spontaneous_breathing_at_s AS spontaneous_breathing_s,
    cases.extubation_at_s AS extubation_s,
    cases.sternal_at_s AS sternal_s,
    cases.standing_at_s AS standing_s,
    cases.recovery_end_at_s AS recovery_end_s,
    cases.outcome,
    cases.outcome_at_s AS outcome_s,
    cases.followed_until_s AS followed_s,
    coalesce(cases.induction_at_s, cases.intubation_at_s, cases.vaporizer_on_at_s) AS start_s,
    CAST(coalesce(cases.induction_at, cases.intubation_at, cases.vaporizer_on_at) AS DATE) AS start_day,
    year(coalesce(cases.induction_at, cases.intubation_at, cases.vaporizer_on_at)) * 12
        + month(coalesce(cases.induction_at, cases.intubation_at, cases.vaporizer_on_at)) - 1 AS start_month_no,
    cases.source_file,
    cases.source_row
FROM cases
LEFT JOIN set_aside_rows
    ON set_aside_rows.table_name = 'cases'
    AND set_aside_rows.source_file = cases.source_file
    AND set_aside_rows.source_row = cases.source_row
LEFT JOIN seed_plausibility AS bounds
    ON bounds.parameter = 'weight_kg'
    AND bounds.species = cases.species
WHERE set_aside_rows.rule_id IS NULL
