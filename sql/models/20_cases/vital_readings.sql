-- vital_readings: every reading with the reason why it cannot be used, if there is one.
--
-- Grain   one row a charted reading
-- Reads   stg_vitals, stg_cases, seed_plausibility, artefact_disconnected, artefact_no_pulse_signal, artefact_not_placed
-- Units   taken_s seconds of UTC since 1970; val in the parameter's own unit
-- Source  bounds are rows of seed_plausibility
--
-- Rules
--   Every rule reads the raw readings; the first that names a reading is its reason; NULL is valid.
--   Bounds are inside. Bounds of the dial go by agent and hold for every species.

WITH

removed AS (
    SELECT case_id, parameter, taken_s, min(reason) AS reason
    FROM (
        SELECT case_id, parameter, taken_s, reason FROM artefact_disconnected
        UNION ALL
        SELECT case_id, parameter, taken_s, reason FROM artefact_no_pulse_signal
        UNION ALL
        SELECT case_id, parameter, taken_s, reason FROM artefact_not_placed
    ) AS every_artefact
    GROUP BY case_id, parameter, taken_s
),

case_bounds AS (
    SELECT
        stg_cases.case_id,
        bounds.parameter,
        bounds.low,
        bounds.high
    FROM stg_cases
    INNER JOIN seed_plausibility AS bounds
        ON bounds.species = stg_cases.species
        OR bounds.agent = stg_cases.agent
)

SELECT
    stg_vitals.case_id,
    stg_vitals.parameter,
    stg_vitals.taken_s,
    stg_vitals.val,
    CASE
        WHEN stg_vitals.val < case_bounds.low OR stg_vitals.val > case_bounds.high THEN 'outside_bounds'
        ELSE removed.reason
    END AS reason
FROM stg_vitals
LEFT JOIN case_bounds
    ON case_bounds.case_id = stg_vitals.case_id
    AND case_bounds.parameter = stg_vitals.parameter
LEFT JOIN removed
    ON removed.case_id = stg_vitals.case_id
    AND removed.parameter = stg_vitals.parameter
    AND removed.taken_s = stg_vitals.taken_s
