-- cases_key: does each anesthetic stand once?
--
-- Judges  every case that has a number
-- Reads   check_cases

SELECT
    CASE WHEN count(*) OVER (PARTITION BY case_id) > 1 THEN 1 ELSE 0 END AS failed,
    case_id,
    source_file,
    source_row,
    CAST(NULL AS VARCHAR) AS person,
    'stands ' || CAST(count(*) OVER (PARTITION BY case_id) AS VARCHAR) || ' times' AS found
FROM check_cases
WHERE case_id IS NOT NULL
