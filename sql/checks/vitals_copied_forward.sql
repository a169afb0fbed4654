-- vitals_copied_forward: was a reading that always moves copied down the sheet?
--
-- Judges  heart rate and each pressure of every case with at least copied_readings readings of it
-- Reads   vitals, cases_in_pieces, vital_groups, check_values
--
-- Rules
--   At least copied_readings equal readings running, no two more than ten minutes apart, over at least copied_min
--   minutes: a monitor's equal readings of a calm minute are no copy.
--   Only where a reading equals the six before it, or the case stands in pieces, is a case looked at closely.

WITH

as_they_stand AS (
    SELECT
        case_id, parameter, value, lag(value, 1) OVER () AS before_1, lag(value, 2) OVER () AS before_2,
        lag(value, 3) OVER () AS before_3, lag(value, 4) OVER () AS before_4, lag(value, 5) OVER () AS before_5,
        lag(value, 6) OVER () AS before_6, lag(case_id, 6) OVER () AS case_before
    FROM vitals
    WHERE parameter = 'heart_rate' AND value IS NOT NULL
    UNION ALL
    SELECT
        case_id, parameter, value, lag(value, 1) OVER () AS before_1, lag(value, 2) OVER () AS before_2,
        lag(value, 3) OVER () AS before_3, lag(value, 4) OVER () AS before_4, lag(value, 5) OVER () AS before_5,
        lag(value, 6) OVER () AS before_6, lag(case_id, 6) OVER () AS case_before
    FROM vitals
    WHERE parameter = 'sap' AND value IS NOT NULL
    UNION ALL
    SELECT
        case_id, parameter, value, lag(value, 1) OVER () AS before_1, lag(value, 2) OVER () AS before_2,
        lag(value, 3) OVER () AS before_3, lag(value, 4) OVER () AS before_4, lag(value, 5) OVER () AS before_5,
        lag(value, 6) OVER () AS before_6, lag(case_id, 6) OVER () AS case_before
    FROM vitals
    WHERE parameter = 'map' AND value IS NOT NULL
    UNION ALL
    SELECT
        case_id, parameter, value, lag(value, 1) OVER () AS before_1, lag(value, 2) OVER () AS before_2,
        lag(value, 3) OVER () AS before_3, lag(value, 4) OVER () AS before_4, lag(value, 5) OVER () AS before_5,
        lag(value, 6) OVER () AS before_6, lag(case_id, 6) OVER () AS case_before
    FROM vitals
    WHERE parameter = 'dap' AND value IS NOT NULL
),

doubtful AS (
    SELECT DISTINCT case_id, parameter
    FROM as_they_stand
    WHERE value = before_1 AND value = before_2 AND value = before_3 AND value = before_4 AND value = before_5
        AND value = before_6 AND case_id = case_before
    UNION
    SELECT vital_groups.case_id, vital_groups.parameter
    FROM vital_groups
    INNER JOIN cases_in_pieces ON cases_in_pieces.case_id = vital_groups.case_id
    WHERE vital_groups.parameter IN ('heart_rate', 'sap', 'map', 'dap')
),

steps AS (
    SELECT
        vitals.case_id,
        vitals.parameter,
        vitals.taken_at_s,
        vitals.value,
        lag(vitals.taken_at_s) OVER sheet AS before_s,
        lag(vitals.value) OVER sheet AS value_before,
        row_number() OVER sheet AS place
    FROM vitals
    INNER JOIN doubtful ON doubtful.case_id = vitals.case_id AND doubtful.parameter = vitals.parameter
    WHERE vitals.value IS NOT NULL
    WINDOW sheet AS (PARTITION BY vitals.case_id, vitals.parameter ORDER BY vitals.taken_at_s)
),

same AS (
    SELECT steps.*, place - row_number() OVER (PARTITION BY case_id, parameter ORDER BY place) AS run_no
    FROM steps
    WHERE value = value_before AND taken_at_s - before_s <= 600
),

runs AS (
    SELECT
        case_id,
        parameter,
        min(value) AS value,
        count(*) + 1 AS readings,
        min(before_s) AS first_s,
        max(taken_at_s) AS last_s
    FROM same
    GROUP BY case_id, parameter, run_no
),

copied AS (
    SELECT
        runs.case_id,
        runs.parameter,
        max(runs.readings) AS readings,
        arg_max(runs.value, runs.readings) AS value,
        arg_max(runs.first_s, runs.readings) AS first_s,
        arg_max(runs.last_s - runs.first_s, runs.readings) AS run_s
    FROM runs
    CROSS JOIN check_values
    WHERE runs.readings >= check_values.copied_readings
        AND runs.last_s - runs.first_s >= 60e0 * check_values.copied_min
    GROUP BY runs.case_id, runs.parameter
)

SELECT
    CASE WHEN copied.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    vital_groups.case_id,
    vital_groups.parameter,
    copied.first_s AS at_s,
    vital_groups.first_file AS source_file,
    CASE
        WHEN failed = 1 THEN copied.parameter || ' ' || CAST(copied.value AS VARCHAR) || ' on '
            || CAST(copied.readings AS VARCHAR) || ' readings running, ' || CAST(copied.run_s // 60 AS VARCHAR)
            || ' min'
    END AS found
FROM vital_groups
CROSS JOIN check_values
LEFT JOIN copied ON copied.case_id = vital_groups.case_id AND copied.parameter = vital_groups.parameter
WHERE vital_groups.parameter IN ('heart_rate', 'sap', 'map', 'dap')
    AND vital_groups.readings >= check_values.copied_readings
