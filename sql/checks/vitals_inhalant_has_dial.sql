-- vitals_inhalant_has_dial: does a case with an inhalant chart its vaporizer dial?
--
-- Judges  every case with an inhalant, a start and any reading, where any dial is charted
-- Reads   check_cases, vital_groups

SELECT
    CASE WHEN dials.case_id IS NULL THEN 1 ELSE 0 END AS failed,
    check_cases.case_id,
    check_cases.source_file,
    check_cases.source_row,
    CASE WHEN failed = 1 THEN 'no dial reading, agent ' || check_cases.agent END AS found
FROM check_cases
LEFT JOIN vital_groups AS dials
    ON dials.case_id = check_cases.case_id AND dials.parameter = 'vaporizer_setting'
WHERE check_cases.agent IN ('isoflurane', 'sevoflurane', 'desflurane') AND check_cases.start_s IS NOT NULL
    AND check_cases.case_id IN (SELECT case_id FROM vital_groups)
    AND (SELECT count(*) FROM vital_groups WHERE parameter = 'vaporizer_setting') > 0
