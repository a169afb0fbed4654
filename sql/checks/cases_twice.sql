-- cases_twice: was one anesthetic entered under two numbers?
--
-- Judges  every case with a patient and a start
-- Reads   check_cases

SELECT
    CASE
        WHEN lag(case_id) OVER (PARTITION BY patient_id, start_s ORDER BY case_id) <> case_id THEN 1
        ELSE 0
    END AS failed,
    case_id,
    source_file,
    source_row,
    CASE
        WHEN failed = 1 THEN 'same animal and same start as '
            || lag(case_id) OVER (PARTITION BY patient_id, start_s ORDER BY case_id)
    END AS found
FROM check_cases
WHERE patient_id IS NOT NULL AND start_s IS NOT NULL
