-- case_readings: what the readings of a case hold that rules about the whole case ask for.
--
-- Kept    table
-- Grain   one row a case with a reading
-- Reads   vital_groups
-- Units   *_s seconds of UTC since 1970; pressures mmHg, dial per cent, o2 L/min; *_file the file of the first reading
--
-- Rules
--   recovery_last_s is the last heart rate, respiratory rate or temperature. NULL where nothing of it is charted.

SELECT
    case_id,
    min(CASE WHEN parameter = 'heart_rate' THEN first_s END) AS heart_first_s,
    max(CASE WHEN parameter = 'heart_rate' THEN last_s END) AS heart_last_s,
    max(CASE WHEN parameter IN ('heart_rate', 'respiratory_rate', 'temperature') THEN last_s END) AS recovery_last_s,
    max(CASE WHEN parameter = 'vaporizer_setting' THEN highest END) AS dial_highest,
    min(CASE WHEN parameter = 'vaporizer_setting' THEN first_file END) AS dial_file,
    min(CASE WHEN parameter = 'o2_flow' THEN lowest END) AS o2_lowest,
    min(CASE WHEN parameter = 'sap' THEN lowest END) AS sap_low,
    max(CASE WHEN parameter = 'map' THEN highest END) AS map_high,
    min(CASE WHEN parameter = 'map' THEN lowest END) AS map_low,
    max(CASE WHEN parameter = 'dap' THEN highest END) AS dap_high,
    count(CASE WHEN parameter IN ('sap', 'map', 'dap') THEN parameter END) AS pressures,
    min(CASE WHEN parameter IN ('sap', 'map', 'dap') THEN first_file END) AS pressures_file
FROM vital_groups
GROUP BY case_id
