-- vitals_copied_forward: was a reading that always moves copied from mark to mark?
--
-- Judges  heart rate and pressures of every case charted on at least copied_marks five-minute marks
-- Reads   vital_marks, vital_groups, check_values
--
-- Rules
--   A run is successive five-minute marks, no more than ten minutes apart, in which every reading has one value.
--   A monitor's readings every few seconds are one mark together, so that a short calm is no copy.

WITH

marks AS (
    SELECT
        case_id,
        parameter,
        mark,
        lowest,
        highest,
        first_s,
        CASE
            WHEN lowest = highest
                AND lag(lowest) OVER sheet = lowest
                AND lag(highest) OVER sheet = lowest
                AND first_s - lag(last_s) OVER sheet <= 600 THEN 0
            ELSE 1
        END AS fresh
    FROM vital_marks
    WINDOW sheet AS (PARTITION BY case_id, parameter ORDER BY mark)
),

numbered AS (
    SELECT
        marks.*,
        sum(fresh) OVER (
            PARTITION BY case_id, parameter ORDER BY mark ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS run_no
    FROM marks
),

runs AS (
    SELECT case_id, parameter, run_no, count(*) AS marks, min(lowest) AS value, min(first_s) AS first_s
    FROM numbered
    GROUP BY case_id, parameter, run_no
),

sheets AS (
    SELECT
        case_id,
        parameter,
        sum(marks) AS marks,
        max(marks) AS longest,
        arg_max(value, marks) AS value,
        arg_max(first_s, marks) AS first_s
    FROM runs
    GROUP BY case_id, parameter
)

SELECT
    CASE WHEN sheets.longest >= check_values.copied_marks THEN 1 ELSE 0 END AS failed,
    sheets.case_id,
    sheets.parameter,
    sheets.first_s AS at_s,
    sheets.parameter || ' ' || CAST(sheets.value AS VARCHAR) || ' on ' || CAST(sheets.longest AS VARCHAR)
        || ' marks running' AS found
FROM sheets
CROSS JOIN check_values
WHERE sheets.marks >= check_values.copied_marks
