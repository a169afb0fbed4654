-- cases_agent_fits_dial: is a case without an inhalant also without an open vaporizer?
--
-- Judges  every case whose agent is none and that has readings of the dial
-- Reads   check_cases, case_readings

SELECT
    CASE WHEN case_readings.dial_highest > 0e0 THEN 1 ELSE 0 END AS failed,
    check_cases.case_id,
    check_cases.source_file,
    check_cases.source_row,
    CASE WHEN failed = 1 THEN 'agent none, dial up to ' || CAST(case_readings.dial_highest AS VARCHAR) || ' %' END AS found
FROM check_cases
INNER JOIN case_readings ON case_readings.case_id = check_cases.case_id
WHERE check_cases.agent = 'none' AND case_readings.dial_highest IS NOT NULL
