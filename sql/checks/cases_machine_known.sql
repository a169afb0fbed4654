-- cases_machine_known: does the machine of a case appear in the equipment log?
--
-- Judges  every case with a machine, where an equipment log is loaded
-- Reads   check_cases, equipment

SELECT
    CASE WHEN logged.machine_id IS NULL THEN 1 ELSE 0 END AS failed,
    check_cases.case_id,
    check_cases.source_file,
    check_cases.source_row,
    CASE WHEN failed = 1 THEN check_cases.machine_id END AS found
FROM check_cases
LEFT JOIN (SELECT DISTINCT machine_id FROM equipment) AS logged ON logged.machine_id = check_cases.machine_id
WHERE check_cases.machine_id IS NOT NULL AND (SELECT count(*) FROM equipment) > 0
