-- vitals_temperature_dip: did the temperature fall and come back faster than an animal can?
--
-- Judges  every case with at least three temperatures
-- Reads   vital_groups, remarkable, groups_in_pieces, doubtful_readings, check_values
-- Units   °C
--
-- Rules
--   More than temperature_dip_c below the reading before, within temperature_dip_min, and back above that fall
--   within the same time again: the probe slipped out, or two animals share a sheet. Listed, not removed.

WITH

in_pieces AS (
    SELECT case_id
    FROM groups_in_pieces
    WHERE parameter = 'temperature'
),

readings AS (
    SELECT case_id, group_no, taken_at_s, value
    FROM doubtful_readings
    WHERE parameter = 'temperature' AND value IS NOT NULL
),

sorted AS (
    SELECT
        readings.*,
        lag(readings.taken_at_s) OVER (PARTITION BY readings.group_no ORDER BY readings.taken_at_s) AS before_s,
        lag(readings.value) OVER (PARTITION BY readings.group_no ORDER BY readings.taken_at_s) AS value_before
    FROM readings
    INNER JOIN in_pieces ON in_pieces.case_id = readings.case_id
),

falls AS (
    SELECT case_id, taken_at_s, value, value_before
    FROM remarkable
    WHERE falls AND case_id NOT IN (SELECT case_id FROM in_pieces)
    UNION ALL
    SELECT sorted.case_id, sorted.taken_at_s, sorted.value, sorted.value_before
    FROM sorted
    CROSS JOIN check_values
    WHERE sorted.value_before - sorted.value > check_values.temperature_dip_c
        AND sorted.taken_at_s - sorted.before_s <= 60e0 * check_values.temperature_dip_min
),

after AS (
    SELECT
        falls.case_id,
        falls.taken_at_s,
        falls.value_before,
        falls.value,
        min(readings.taken_at_s) AS after_s,
        arg_min(readings.value, readings.taken_at_s) AS value_after
    FROM falls
    INNER JOIN readings ON readings.case_id = falls.case_id AND readings.taken_at_s > falls.taken_at_s
    GROUP BY falls.case_id, falls.taken_at_s, falls.value_before, falls.value
),

dips AS (
    SELECT
        after.case_id,
        min(after.taken_at_s) AS at_s,
        arg_min(after.value_before, after.taken_at_s) AS value_before,
        arg_min(after.value, after.taken_at_s) AS value,
        arg_min(after.value_after, after.taken_at_s) AS value_after
    FROM after
    CROSS JOIN check_values
    WHERE after.value_after - after.value > check_values.temperature_dip_c
        AND after.after_s - after.taken_at_s <= 60e0 * check_values.temperature_dip_min
    GROUP BY after.case_id
)

SELECT
    CASE WHEN dips.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    vital_groups.case_id,
    vital_groups.parameter,
    dips.at_s,
    vital_groups.first_file AS source_file,
    CASE
        WHEN failed = 1 THEN CAST(dips.value_before AS VARCHAR) || ', ' || CAST(dips.value AS VARCHAR) || ', '
            || CAST(dips.value_after AS VARCHAR) || ' °C'
    END AS found
FROM vital_groups
LEFT JOIN dips ON dips.case_id = vital_groups.case_id
WHERE vital_groups.parameter = 'temperature' AND vital_groups.readings >= 3
