-- equipment_leak_tested: was a machine leak-tested on every day it was used?
--
-- Judges  every machine and day with a case, from the first leak test in the log to the last
-- Reads   check_cases, equipment
--
-- Rules
--   Any part of the machine tested that day counts; the line shown is that of the day's first case.

WITH

tested AS (
    SELECT machine_id, CAST("at" AS DATE) AS day, min(at_s) AS first_s
    FROM equipment
    WHERE action = 'leak_tested'
    GROUP BY machine_id, day
),

used AS (
    SELECT
        machine_id,
        CAST(coalesce(induction_at, intubation_at, vaporizer_on_at) AS DATE) AS day,
        min(start_s) AS first_s,
        arg_min(case_id, start_s) AS case_id,
        arg_min(offset_s, start_s) AS offset_s,
        arg_min(source_file, start_s) AS source_file,
        arg_min(source_row, start_s) AS source_row
    FROM check_cases
    WHERE machine_id IS NOT NULL AND start_s IS NOT NULL
    GROUP BY machine_id, day
)

SELECT
    CASE WHEN tested.machine_id IS NULL THEN 1 ELSE 0 END AS failed,
    used.case_id,
    used.source_file,
    used.source_row,
    CASE
        WHEN failed = 1 THEN used.machine_id || ', first case ' || local_time(used.first_s, used.offset_s)
            || ', no leak test that day'
    END AS found
FROM used
LEFT JOIN tested ON tested.machine_id = used.machine_id AND tested.day = used.day
WHERE used.day BETWEEN (SELECT min(day) FROM tested) AND (SELECT max(day) FROM tested)
