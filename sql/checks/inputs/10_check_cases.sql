-- check_cases: every case as charted, with the times that other rules measure from.
--
-- Kept    view
-- Grain   one row a case row (a case_id may stand twice: that is a rule of its own)
-- Reads   cases, check_files
-- Units   *_s seconds of UTC since 1970, offset_s local less UTC; month_no year x 12 + month - 1, local
--
-- Rules
--   start_s is the first known of induction, intubation, vaporizer on; end_s of extubation, vaporizer off;
--   done_s of handover, standing. first_s and last_s are the earliest and latest time on the sheet.

SELECT
    cases.*,
    coalesce(induction_at_s, intubation_at_s, vaporizer_on_at_s) AS start_s,
    coalesce(extubation_at_s, vaporizer_off_at_s) AS end_s,
    coalesce(recovery_end_at_s, standing_at_s) AS done_s,
    least(
        premed_at_s, preoxygenation_start_at_s, induction_at_s, intubation_at_s, vaporizer_on_at_s,
        procedure_start_at_s, procedure_end_at_s, vaporizer_off_at_s, extubation_at_s
    ) AS first_s,
    greatest(
        induction_at_s, intubation_at_s, vaporizer_on_at_s, procedure_end_at_s, vaporizer_off_at_s,
        ventilator_off_at_s, spontaneous_breathing_at_s, extubation_at_s, sternal_at_s, standing_at_s,
        recovery_end_at_s
    ) AS last_s,
    CASE WHEN outcome IN ('died', 'euthanised') THEN outcome_at_s END AS died_s,
    year(coalesce(induction_at, intubation_at, vaporizer_on_at)) * 12
        + month(coalesce(induction_at, intubation_at, vaporizer_on_at)) - 1 AS month_no,
    CAST(floor(epoch(coalesce(induction_at, intubation_at, vaporizer_on_at))) AS BIGINT)
        - coalesce(induction_at_s, intubation_at_s, vaporizer_on_at_s) AS offset_s,
    check_files.loaded_s
FROM cases
LEFT JOIN check_files ON check_files.file_id = cases.source_file
