-- cases_machine_overlap: is a machine in two cases at once?
--
-- Judges  every case with a machine, a start and an end
-- Reads   check_cases, check_values
--
-- Rules
--   A case fails where it begins more than overlap_min before an earlier case on its machine ended.

WITH

ordered AS (
    SELECT
        check_cases.*,
        max(end_s) OVER (
            PARTITION BY machine_id ORDER BY start_s, case_id ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) AS busy_until_s,
        lag(case_id) OVER (PARTITION BY machine_id ORDER BY start_s, case_id) AS case_before
    FROM check_cases
    WHERE machine_id IS NOT NULL AND start_s IS NOT NULL AND end_s >= start_s
)

SELECT
    CASE WHEN ordered.start_s < ordered.busy_until_s - 60e0 * check_values.overlap_min THEN 1 ELSE 0 END AS failed,
    ordered.case_id,
    ordered.source_file,
    ordered.source_row,
    CASE
        WHEN failed = 1 THEN ordered.machine_id || ' begins ' || local_time(ordered.start_s, ordered.offset_s)
            || ', still in use until ' || local_time(ordered.busy_until_s, ordered.offset_s) || ' ('
            || ordered.case_before || ')'
    END AS found
FROM ordered
CROSS JOIN check_values
