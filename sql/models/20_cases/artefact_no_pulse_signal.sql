-- artefact_no_pulse_signal: oxygen saturation read while the probe found no pulse.
--
-- Grain   one row a removed reading
-- Reads   stg_vitals
-- Units   taken_s seconds of UTC since 1970
-- Source  common practice
-- Built   by case
--
-- Rules
--   A saturation leaves where its clock minute has a charted heart rate of 0 and none above.
--   No heart rate at all is no reason.

WITH

silent_minutes AS (
    SELECT
        stg_vitals.case_id,
        floor(stg_vitals.taken_s / 60e0) AS clock_minute
    FROM stg_vitals
    WHERE stg_vitals.parameter = 'heart_rate'
    GROUP BY stg_vitals.case_id, floor(stg_vitals.taken_s / 60e0)
    HAVING max(stg_vitals.val) = 0
)

SELECT
    stg_vitals.case_id,
    stg_vitals.parameter,
    stg_vitals.taken_s,
    'no_pulse_signal' AS reason
FROM stg_vitals
INNER JOIN silent_minutes
    ON silent_minutes.case_id = stg_vitals.case_id
    AND silent_minutes.clock_minute = floor(stg_vitals.taken_s / 60e0)
WHERE stg_vitals.parameter = 'spo2'
