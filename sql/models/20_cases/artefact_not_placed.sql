-- artefact_not_placed: temperatures read before the probe was in the animal.
--
-- Grain   one row a removed reading
-- Reads   stg_vitals, seed_windows
-- Units   taken_s seconds of UTC since 1970
-- Source  the first believable temperature is a row of seed_windows
-- Built   by case
--
-- Rules
--   A temperature before the case's first raw reading at or above the limit leaves; all do if there is none.

WITH

numbers AS (
    SELECT max(CASE WHEN name = 'temperature_placed_min' THEN val END) AS placed_min
    FROM seed_windows
),

placed AS (
    SELECT
        stg_vitals.case_id,
        coalesce(
            min(CASE WHEN stg_vitals.val >= numbers.placed_min THEN stg_vitals.taken_s END),
            9000000000000
        ) AS placed_s
    FROM stg_vitals
    CROSS JOIN numbers
    WHERE stg_vitals.parameter = 'temperature'
    GROUP BY stg_vitals.case_id
)

SELECT
    stg_vitals.case_id,
    stg_vitals.parameter,
    stg_vitals.taken_s,
    'not_placed' AS reason
FROM stg_vitals
INNER JOIN placed
    ON placed.case_id = stg_vitals.case_id
    AND stg_vitals.taken_s < placed.placed_s
WHERE stg_vitals.parameter = 'temperature'
