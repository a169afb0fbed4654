-- vitals_inhalant_has_dial: does a case with an inhalant chart its vaporizer dial?
--
-- Judges  every case with an inhalant, a start and any reading, where any dial is charted
-- Reads   check_cases, case_readings

SELECT
    CASE WHEN case_readings.dial_highest IS NULL THEN 1 ELSE 0 END AS failed,
    check_cases.case_id,
    check_cases.source_file,
    check_cases.source_row,
    CASE WHEN failed = 1 THEN 'no dial reading, agent ' || check_cases.agent END AS found
FROM check_cases
INNER JOIN case_readings ON case_readings.case_id = check_cases.case_id
WHERE check_cases.agent IN ('isoflurane', 'sevoflurane', 'desflurane') AND check_cases.start_s IS NOT NULL
    AND (SELECT count(dial_highest) FROM case_readings) > 0
