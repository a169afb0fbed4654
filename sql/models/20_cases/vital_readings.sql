-- vital_readings: every reading with the reason why it cannot be used, if there is one.
--
-- Grain   one row a charted reading
-- Reads   stg_vitals, removed_readings
-- Units   taken_s seconds of UTC since 1970; val in the parameter's own unit
-- Source  none
-- Built   as a view
--
-- Rules
--   NULL is valid.

SELECT
    stg_vitals.case_id,
    stg_vitals.parameter,
    stg_vitals.taken_s,
    stg_vitals.val,
    removed_readings.reason
FROM stg_vitals
LEFT JOIN removed_readings
    ON removed_readings.case_id = stg_vitals.case_id
    AND removed_readings.parameter = stg_vitals.parameter
    AND removed_readings.taken_s = stg_vitals.taken_s
    AND removed_readings.val = stg_vitals.val
