-- cases_patient_overlap: is an animal in two anesthetics at once?
--
-- Judges  every case with a patient, a start and an end
-- Reads   check_cases
--
-- Rules
--   Two cases of one animal with the same start are one case entered twice: another rule.

WITH

ordered AS (
    SELECT
        check_cases.*,
        max(end_s) OVER (
            PARTITION BY patient_id ORDER BY start_s, case_id ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) AS busy_until_s,
        lag(start_s) OVER (PARTITION BY patient_id ORDER BY start_s, case_id) AS start_before_s,
        lag(case_id) OVER (PARTITION BY patient_id ORDER BY start_s, case_id) AS case_before
    FROM check_cases
    WHERE patient_id IS NOT NULL AND start_s IS NOT NULL AND end_s >= start_s
)

SELECT
    CASE WHEN start_s < busy_until_s AND start_s <> start_before_s THEN 1 ELSE 0 END AS failed,
    case_id,
    source_file,
    source_row,
    CASE
        WHEN failed = 1 THEN 'begins ' || local_time(start_s, offset_s) || ', before ' || case_before || ' ended '
            || local_time(busy_until_s, offset_s)
    END AS found
FROM ordered
