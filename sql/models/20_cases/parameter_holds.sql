-- parameter_holds: how long each valid reading under anesthesia stands.
--
-- Grain   one row a valid reading from start to end, of a parameter that has a limit
-- Reads   vital_readings, case_windows, seed_limits, seed_windows
-- Units   taken_s seconds of UTC since 1970; hold_s seconds; val in the parameter's own unit
-- Source  the longest hold is a row of seed_windows
-- Built   by case
--
-- Rules
--   A reading stands until the next one, the longest hold or the end, whichever is first; at end it holds 0.
--   Nothing is carried in from before start. Time past the longest hold is unobserved and breaks a stretch.

WITH

numbers AS (
    SELECT CAST(floor(60e0 * max(CASE WHEN name = 'hold_max_min' THEN val END)) AS BIGINT) AS hold_max_s
    FROM seed_windows
),

limited AS (
    SELECT DISTINCT parameter
    FROM seed_limits
),

readings AS (
    SELECT
        vital_readings.case_id,
        vital_readings.parameter,
        vital_readings.taken_s,
        vital_readings.val,
        case_windows.end_s,
        lead(vital_readings.taken_s) OVER (
            PARTITION BY vital_readings.case_id, vital_readings.parameter
            ORDER BY vital_readings.taken_s, vital_readings.val
        ) AS next_s,
        lag(vital_readings.taken_s) OVER (
            PARTITION BY vital_readings.case_id, vital_readings.parameter
            ORDER BY vital_readings.taken_s, vital_readings.val
        ) AS previous_s,
        row_number() OVER (
            PARTITION BY vital_readings.case_id, vital_readings.parameter
            ORDER BY vital_readings.taken_s, vital_readings.val
        ) AS reading_no
    FROM vital_readings
    INNER JOIN limited ON limited.parameter = vital_readings.parameter
    INNER JOIN case_windows
        ON case_windows.case_id = vital_readings.case_id
        AND vital_readings.taken_s >= case_windows.start_s
        AND vital_readings.taken_s <= case_windows.end_s
    WHERE vital_readings.reason IS NULL
        AND case_windows.window_s IS NOT NULL
)

SELECT
    readings.case_id,
    readings.parameter,
    readings.reading_no,
    readings.taken_s,
    readings.val,
    least(
        coalesce(readings.next_s, readings.end_s) - readings.taken_s,
        readings.end_s - readings.taken_s,
        numbers.hold_max_s
    ) AS hold_s,
    sum(CASE WHEN readings.taken_s - readings.previous_s <= numbers.hold_max_s THEN 0 ELSE 1 END) OVER (
        PARTITION BY readings.case_id, readings.parameter
        ORDER BY readings.reading_no
        ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
    ) AS stretch_no
FROM readings
CROSS JOIN numbers
