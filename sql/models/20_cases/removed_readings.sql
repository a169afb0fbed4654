-- removed_readings: the readings that cannot be used, and why.
--
-- Grain   one row a charted reading that a rule names
-- Reads   stg_vitals, stg_cases, seed_plausibility, artefact_disconnected, artefact_no_pulse_signal, artefact_not_placed
-- Units   taken_s seconds of UTC since 1970; val in the parameter's own unit
-- Source  bounds are rows of seed_plausibility
-- Built   by case
--
-- Rules
--   Every rule reads the raw readings; bounds come first, then the first rule by name. Bounds are inside.
--   Bounds of the dial go by agent and hold for every species.

WITH

named AS (
    SELECT
        stg_vitals.case_id,
        stg_vitals.parameter,
        stg_vitals.taken_s,
        stg_vitals.val,
        1 AS rank_no,
        'outside_bounds' AS reason
    FROM stg_vitals
    INNER JOIN stg_cases ON stg_cases.case_id = stg_vitals.case_id
    INNER JOIN seed_plausibility AS bounds
        ON bounds.parameter = stg_vitals.parameter
        AND (bounds.species = stg_cases.species OR bounds.agent = stg_cases.agent)
    WHERE stg_vitals.val < bounds.low OR stg_vitals.val > bounds.high
    UNION ALL
    SELECT
        stg_vitals.case_id,
        stg_vitals.parameter,
        stg_vitals.taken_s,
        stg_vitals.val,
        2 AS rank_no,
        artefacts.reason
    FROM (
        SELECT case_id, parameter, taken_s, reason FROM artefact_disconnected
        UNION ALL
        SELECT case_id, parameter, taken_s, reason FROM artefact_no_pulse_signal
        UNION ALL
        SELECT case_id, parameter, taken_s, reason FROM artefact_not_placed
    ) AS artefacts
    INNER JOIN stg_vitals
        ON stg_vitals.case_id = artefacts.case_id
        AND stg_vitals.parameter = artefacts.parameter
        AND stg_vitals.taken_s = artefacts.taken_s
)

SELECT
    case_id,
    parameter,
    taken_s,
    val,
    CASE WHEN min(rank_no) = 1 THEN 'outside_bounds' ELSE min(reason) END AS reason
FROM named
GROUP BY case_id, parameter, taken_s, val
