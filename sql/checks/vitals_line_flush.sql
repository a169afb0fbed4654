-- vitals_line_flush: was the pressure line flushed or opened to air?
--
-- Judges  every case and pressure with at least two readings
-- Reads   vital_groups, doubtful_readings, check_values
-- Units   mmHg
--
-- Rules
--   Above flush_above_mmhg, then at or under flush_below_mmhg, within one minute.

WITH

readings AS (
    SELECT
        readings.case_id,
        readings.parameter,
        readings.taken_at_s,
        readings.value,
        lag(readings.value) OVER sheet AS before_mmhg,
        lag(readings.taken_at_s) OVER sheet AS before_s
    FROM vital_groups
    CROSS JOIN check_values
    INNER JOIN doubtful_readings AS readings
        ON readings.case_id = vital_groups.case_id AND readings.parameter = vital_groups.parameter
    WHERE vital_groups.parameter IN ('sap', 'map', 'dap')
        AND vital_groups.highest > check_values.flush_above_mmhg
        AND vital_groups.lowest <= check_values.flush_below_mmhg
        AND readings.value IS NOT NULL
    WINDOW sheet AS (PARTITION BY readings.group_no ORDER BY readings.taken_at_s)
),

flushes AS (
    SELECT readings.case_id, readings.parameter, min(readings.before_s) AS at_s
    FROM readings
    CROSS JOIN check_values
    WHERE readings.before_mmhg > check_values.flush_above_mmhg
        AND readings.value <= check_values.flush_below_mmhg
        AND readings.taken_at_s - readings.before_s <= 60
    GROUP BY readings.case_id, readings.parameter
)

SELECT
    CASE WHEN flushes.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    vital_groups.case_id,
    vital_groups.parameter,
    flushes.at_s,
    vital_groups.first_file AS source_file,
    CASE
        WHEN failed = 1 THEN vital_groups.parameter || ' rises above '
            || CAST(check_values.flush_above_mmhg AS VARCHAR) || ' and drops within a minute'
    END AS found
FROM vital_groups
CROSS JOIN check_values
LEFT JOIN flushes ON flushes.case_id = vital_groups.case_id AND flushes.parameter = vital_groups.parameter
WHERE vital_groups.parameter IN ('sap', 'map', 'dap') AND vital_groups.readings >= 2
