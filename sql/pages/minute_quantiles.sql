-- minute_quantiles: how a reading runs over the minutes of the anesthetic, over the cases of some months.
--
-- Grain   one row a group and class of minutes since the start
-- Reads   vital_readings, case_windows, case_groups, stg_cases, seed_temperature
-- Units   at_min middle of the class [min]; q10 to q90 in the parameter's unit; cases count
-- Source  none
--
-- Rules
--   Valid readings from start to end; a case counts once in a class, with the mean of its readings there.
--   $parameter, $first, $last (month numbers), $step (length of a class, min), $grouping a
--   column of case_groups. Temperature of the species that have a scheme only.

WITH

readings AS (
    SELECT
        case_groups.level_text,
        vital_readings.case_id,
        floor((vital_readings.taken_s - case_windows.start_s) / 60e0 / $step) AS class_no,
        vital_readings.val
    FROM vital_readings
    INNER JOIN case_windows ON case_windows.case_id = vital_readings.case_id
    INNER JOIN case_groups
        ON case_groups.case_id = vital_readings.case_id
        AND case_groups.by_column = $grouping
    INNER JOIN stg_cases ON stg_cases.case_id = vital_readings.case_id
    WHERE vital_readings.parameter = $parameter
        AND vital_readings.reason IS NULL
        AND vital_readings.taken_s >= case_windows.start_s
        AND vital_readings.taken_s <= case_windows.end_s
        AND case_windows.month_no BETWEEN $first AND $last
        AND ($parameter <> 'temperature' OR stg_cases.species IN (SELECT seed_temperature.species FROM seed_temperature))
),

means AS (
    SELECT level_text, class_no, case_id, avg(val) AS mean_val
    FROM readings
    GROUP BY level_text, class_no, case_id
)

SELECT
    level_text,
    (class_no + 5e-1) * $step AS at_min,
    count(*) AS cases,
    percentile_cont(0.10) WITHIN GROUP (ORDER BY mean_val) AS q10,
    percentile_cont(0.25) WITHIN GROUP (ORDER BY mean_val) AS q25,
    percentile_cont(0.50) WITHIN GROUP (ORDER BY mean_val) AS q50,
    percentile_cont(0.75) WITHIN GROUP (ORDER BY mean_val) AS q75,
    percentile_cont(0.90) WITHIN GROUP (ORDER BY mean_val) AS q90
FROM means
GROUP BY level_text, class_no
ORDER BY level_text, class_no
