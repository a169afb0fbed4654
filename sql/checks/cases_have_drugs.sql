-- cases_have_drugs: does a case have any drug?
--
-- Judges  every case with a start, where any drugs are loaded
-- Reads   check_cases, drugs

SELECT
    CASE WHEN given.case_id IS NULL THEN 1 ELSE 0 END AS failed,
    check_cases.case_id,
    check_cases.source_file,
    check_cases.source_row,
    CASE WHEN failed = 1 THEN 'no drug of any kind' END AS found
FROM check_cases
LEFT JOIN (SELECT DISTINCT case_id FROM drugs) AS given ON given.case_id = check_cases.case_id
WHERE check_cases.start_s IS NOT NULL AND check_cases.case_id IS NOT NULL
    AND (SELECT count(*) FROM drugs) > 0
