-- vitals_key: does each parameter of a case stand once at a moment?
--
-- Judges  every parameter of every case
-- Reads   doubtful_readings, vital_groups
--
-- Rules
--   A group whose readings all stand in clock minutes of their own repeats nothing; only the others are looked at.

WITH

moments AS (
    SELECT
        readings.case_id,
        readings.parameter,
        readings.taken_at_s,
        count(*) AS times,
        min(readings.taken_at) AS taken_at,
        max(readings.source_file) AS source_file,
        max(readings.source_row) AS source_row
    FROM doubtful_readings AS readings
    INNER JOIN vital_groups
        ON vital_groups.case_id = readings.case_id AND vital_groups.parameter = readings.parameter
    WHERE vital_groups.charted > vital_groups.moments_filled AND readings.taken_at_s IS NOT NULL
    GROUP BY readings.case_id, readings.parameter, readings.taken_at_s
    HAVING count(*) > 1
),

repeated AS (
    SELECT
        case_id,
        parameter,
        min(taken_at) AS taken_at,
        max(times) AS times,
        max(source_file) AS source_file,
        min(source_row) AS source_row
    FROM moments
    GROUP BY case_id, parameter
)

SELECT
    CASE WHEN repeated.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    vital_groups.case_id,
    repeated.source_file,
    repeated.source_row,
    repeated.parameter || ' at ' || CAST(repeated.taken_at AS VARCHAR) || ' stands '
        || CAST(repeated.times AS VARCHAR) || ' times' AS found
FROM vital_groups
LEFT JOIN repeated
    ON repeated.case_id = vital_groups.case_id AND repeated.parameter = vital_groups.parameter
