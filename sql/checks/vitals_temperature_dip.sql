-- vitals_temperature_dip: did the temperature fall and come back faster than an animal can?
--
-- Judges  every case with at least three temperatures
-- Reads   vital_groups, vitals, check_values
-- Units   °C
--
-- Rules
--   More than temperature_dip_c below the reading before, within temperature_dip_min, and back above that fall
--   within the same time again: the probe slipped out, or two animals share a sheet. Listed, not removed.

WITH

readings AS (
    SELECT
        vitals.case_id,
        vitals.taken_at_s,
        vitals.value,
        lag(vitals.value) OVER sheet AS before_c,
        lag(vitals.taken_at_s) OVER sheet AS before_s,
        lead(vitals.value) OVER sheet AS after_c,
        lead(vitals.taken_at_s) OVER sheet AS after_s
    FROM vital_groups
    CROSS JOIN check_values
    INNER JOIN vitals ON vitals.case_id = vital_groups.case_id AND vitals.parameter = 'temperature'
    WHERE vital_groups.parameter = 'temperature'
        AND vital_groups.highest - vital_groups.lowest > check_values.temperature_dip_c
        AND vitals.value IS NOT NULL
    WINDOW sheet AS (PARTITION BY vitals.case_id ORDER BY vitals.taken_at_s)
),

dips AS (
    SELECT
        readings.case_id,
        min(readings.taken_at_s) AS at_s,
        arg_min(readings.before_c, readings.taken_at_s) AS before_c,
        arg_min(readings.value, readings.taken_at_s) AS value,
        arg_min(readings.after_c, readings.taken_at_s) AS after_c
    FROM readings
    CROSS JOIN check_values
    WHERE readings.before_c - readings.value > check_values.temperature_dip_c
        AND readings.after_c - readings.value > check_values.temperature_dip_c
        AND readings.taken_at_s - readings.before_s <= 60e0 * check_values.temperature_dip_min
        AND readings.after_s - readings.taken_at_s <= 60e0 * check_values.temperature_dip_min
    GROUP BY readings.case_id
)

SELECT
    CASE WHEN dips.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    vital_groups.case_id,
    vital_groups.parameter,
    dips.at_s,
    CAST(dips.before_c AS VARCHAR) || ', ' || CAST(dips.value AS VARCHAR) || ', ' || CAST(dips.after_c AS VARCHAR)
        || ' °C' AS found
FROM vital_groups
LEFT JOIN dips ON dips.case_id = vital_groups.case_id
WHERE vital_groups.parameter = 'temperature' AND vital_groups.filled >= 3
