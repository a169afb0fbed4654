-- cases_outcome_fits_events: does a case with a death among its events say that the animal died?
--
-- Judges  every case with a charted death and an outcome
-- Reads   check_cases, events

SELECT
    CASE WHEN check_cases.outcome = 'alive' THEN 1 ELSE 0 END AS failed,
    check_cases.case_id,
    check_cases.source_file,
    check_cases.source_row,
    CASE WHEN failed = 1 THEN 'outcome ' || check_cases.outcome || ', event death' END AS found
FROM check_cases
INNER JOIN (SELECT DISTINCT case_id FROM events WHERE event = 'death') AS deaths
    ON deaths.case_id = check_cases.case_id
WHERE check_cases.outcome IS NOT NULL
