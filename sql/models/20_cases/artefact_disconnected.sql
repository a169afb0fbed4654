-- artefact_disconnected: end-tidal CO2 of an animal whose sampling line was off.
--
-- Grain   one row a removed reading
-- Reads   stg_vitals, stg_cases, seed_plausibility, seed_windows
-- Units   taken_s seconds of UTC since 1970
-- Source  limit and length of run are rows of seed_windows
-- Built   by case
--
-- Rules, on the raw readings of the whole case
--   One or two readings in a row at or below the limit, ended by a higher one or by the case's first or last
--   reading, each with oxygen saturation and heart rate inside bounds in its clock minute. Where one of two
--   lacks them both stay; longer runs stay, so that apnea and arrest are never filtered.

WITH

numbers AS (
    SELECT
        max(CASE WHEN name = 'etco2_disconnected_max' THEN val END) AS disconnected_max,
        max(CASE WHEN name = 'etco2_disconnected_run' THEN val END) AS disconnected_run
    FROM seed_windows
),

co2 AS (
    SELECT
        stg_vitals.case_id,
        stg_vitals.taken_s,
        CASE WHEN stg_vitals.val <= numbers.disconnected_max THEN 1 ELSE 0 END AS is_low,
        row_number() OVER (PARTITION BY stg_vitals.case_id ORDER BY stg_vitals.taken_s, stg_vitals.val) AS reading_no
    FROM stg_vitals
    CROSS JOIN numbers
    WHERE stg_vitals.parameter = 'etco2'
),

low_co2 AS (
    SELECT
        co2.case_id,
        co2.taken_s,
        co2.reading_no - row_number() OVER (PARTITION BY co2.case_id ORDER BY co2.reading_no) AS run_no
    FROM co2
    WHERE co2.is_low = 1
),

companions AS (
    SELECT
        low_co2.case_id,
        low_co2.taken_s,
        low_co2.run_no,
        max(CASE WHEN stg_vitals.parameter = 'spo2' THEN 1 ELSE 0 END) AS has_spo2,
        max(CASE WHEN stg_vitals.parameter = 'heart_rate' THEN 1 ELSE 0 END) AS has_heart_rate
    FROM low_co2
    INNER JOIN stg_cases ON stg_cases.case_id = low_co2.case_id
    INNER JOIN stg_vitals
        ON stg_vitals.case_id = low_co2.case_id
        AND floor(stg_vitals.taken_s / 60e0) = floor(low_co2.taken_s / 60e0)
    LEFT JOIN seed_plausibility AS bounds
        ON bounds.parameter = stg_vitals.parameter
        AND bounds.species = stg_cases.species
    WHERE stg_vitals.parameter IN ('spo2', 'heart_rate')
        AND (bounds.low IS NULL OR (stg_vitals.val >= bounds.low AND stg_vitals.val <= bounds.high))
    GROUP BY low_co2.case_id, low_co2.taken_s, low_co2.run_no
),

runs AS (
    SELECT
        low_co2.case_id,
        low_co2.run_no,
        count(*) AS readings,
        sum(coalesce(companions.has_spo2 * companions.has_heart_rate, 0)) AS accompanied
    FROM low_co2
    LEFT JOIN companions
        ON companions.case_id = low_co2.case_id
        AND companions.taken_s = low_co2.taken_s
        AND companions.run_no = low_co2.run_no
    GROUP BY low_co2.case_id, low_co2.run_no
)

SELECT
    low_co2.case_id,
    'etco2' AS parameter,
    low_co2.taken_s,
    'disconnected' AS reason
FROM low_co2
INNER JOIN runs ON runs.case_id = low_co2.case_id AND runs.run_no = low_co2.run_no
CROSS JOIN numbers
WHERE runs.readings <= numbers.disconnected_run
    AND runs.accompanied = runs.readings
