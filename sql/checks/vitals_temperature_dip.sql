-- vitals_temperature_dip: did the temperature fall and come back faster than an animal can?
--
-- Judges  every case with at least three temperatures
-- Reads   vital_groups, vitals, cases_in_pieces, check_values
-- Units   °C
--
-- Rules
--   More than temperature_dip_c below the reading before, within temperature_dip_min, and back above that fall
--   within the same time again: the probe slipped out, or two animals share a sheet. Listed, not removed.

WITH

as_they_stand AS (
    SELECT
        case_id,
        taken_at_s,
        value,
        lag(case_id) OVER () AS case_before,
        lag(taken_at_s) OVER () AS before_s,
        lag(value) OVER () AS value_before
    FROM vitals
    WHERE parameter = 'temperature' AND value IS NOT NULL
),

sorted AS (
    SELECT
        vitals.case_id,
        vitals.taken_at_s,
        vitals.value,
        lag(vitals.taken_at_s) OVER (PARTITION BY vitals.case_id ORDER BY vitals.taken_at_s) AS before_s,
        lag(vitals.value) OVER (PARTITION BY vitals.case_id ORDER BY vitals.taken_at_s) AS value_before
    FROM vitals
    INNER JOIN cases_in_pieces ON cases_in_pieces.case_id = vitals.case_id
    WHERE vitals.parameter = 'temperature' AND vitals.value IS NOT NULL
),

falls AS (
    SELECT as_they_stand.case_id, as_they_stand.taken_at_s, as_they_stand.value, as_they_stand.value_before
    FROM as_they_stand
    CROSS JOIN check_values
    WHERE as_they_stand.value_before - as_they_stand.value > check_values.temperature_dip_c
        AND as_they_stand.taken_at_s - as_they_stand.before_s <= 60e0 * check_values.temperature_dip_min
        AND as_they_stand.case_before = as_they_stand.case_id
        AND as_they_stand.case_id NOT IN (SELECT case_id FROM cases_in_pieces)
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
        min(vitals.taken_at_s) AS after_s,
        arg_min(vitals.value, vitals.taken_at_s) AS value_after
    FROM falls
    INNER JOIN vitals
        ON vitals.case_id = falls.case_id
        AND vitals.parameter = 'temperature'
        AND vitals.taken_at_s > falls.taken_at_s
    WHERE vitals.value IS NOT NULL
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
