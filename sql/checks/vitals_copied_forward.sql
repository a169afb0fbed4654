-- vitals_copied_forward: was a reading that always moves copied down the sheet?
--
-- Judges  heart rate and each pressure of every case with at least copied_readings readings of it
-- Reads   remarkable, groups_in_pieces, doubtful_readings, vital_groups, check_values
--
-- Rules
--   At least copied_readings equal readings running, no two more than ten minutes apart, over at least copied_min
--   minutes: a monitor's equal readings of a calm minute are no copy.
--   Only where a reading equals one six before it, or the case stands in pieces, is a case looked at closely.

WITH

doubtful AS (
    SELECT case_id, parameter
    FROM remarkable
    WHERE same
    UNION
    SELECT case_id, parameter
    FROM groups_in_pieces
    WHERE parameter <> 'temperature'
),

steps AS (
    SELECT
        readings.case_id,
        readings.parameter,
        readings.group_no,
        readings.taken_at_s,
        readings.value,
        lag(readings.taken_at_s) OVER sheet AS before_s,
        lag(readings.value) OVER sheet AS value_before,
        row_number() OVER sheet AS place
    FROM doubtful_readings AS readings
    INNER JOIN doubtful ON doubtful.case_id = readings.case_id AND doubtful.parameter = readings.parameter
    WHERE readings.value IS NOT NULL
    WINDOW sheet AS (PARTITION BY readings.group_no ORDER BY readings.taken_at_s)
),

same AS (
    SELECT steps.*, place - row_number() OVER (PARTITION BY group_no ORDER BY place) AS run_no
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
