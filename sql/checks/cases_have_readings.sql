-- cases_have_readings: does a case have any reading?
--
-- Judges  every case with a start, where any readings are loaded
-- Reads   check_cases, case_readings

SELECT
    CASE WHEN charted.case_id IS NULL THEN 1 ELSE 0 END AS failed,
    check_cases.case_id,
    check_cases.source_file,
    check_cases.source_row,
    CASE WHEN failed = 1 THEN 'no reading of any kind' END AS found
FROM check_cases
LEFT JOIN case_readings AS charted ON charted.case_id = check_cases.case_id
WHERE check_cases.start_s IS NOT NULL AND check_cases.case_id IS NOT NULL
    AND (SELECT count(*) FROM case_readings) > 0
