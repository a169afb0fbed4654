-- vitals_pressure_order: is systolic >= mean >= diastolic?
--
-- Judges  every case with at least two of the three pressures
-- Reads   doubtful_readings, case_readings
-- Units   mmHg
--
-- Rules
--   Only a case whose lowest and highest pressures leave room for a wrong order is looked at reading by reading.

WITH

doubtful AS MATERIALIZED (
    SELECT case_id
    FROM case_readings
    WHERE sap_low < map_high OR map_low < dap_high OR sap_low < dap_high
),

moments AS (
    SELECT
        readings.case_id,
        readings.taken_at_s,
        max(CASE WHEN readings.parameter = 'sap' THEN readings.value END) AS sap,
        max(CASE WHEN readings.parameter = 'map' THEN readings.value END) AS map,
        max(CASE WHEN readings.parameter = 'dap' THEN readings.value END) AS dap
    FROM doubtful_readings AS readings
    INNER JOIN doubtful ON doubtful.case_id = readings.case_id
    WHERE readings.parameter IN ('sap', 'map', 'dap')
    GROUP BY readings.case_id, readings.taken_at_s
),

wrong AS (
    SELECT
        case_id,
        count(*) AS moments,
        min(taken_at_s) AS at_s,
        arg_min(coalesce(CAST(sap AS VARCHAR), 'blank') || '/' || coalesce(CAST(map AS VARCHAR), 'blank') || '/'
            || coalesce(CAST(dap AS VARCHAR), 'blank'), taken_at_s) AS shown,
        arg_min(CASE WHEN map IS NULL THEN 'sap' ELSE 'map' END, taken_at_s) AS parameter
    FROM moments
    WHERE sap < map OR map < dap OR sap < dap
    GROUP BY case_id
)

SELECT
    CASE WHEN wrong.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    case_readings.case_id,
    wrong.parameter,
    wrong.at_s,
    case_readings.pressures_file AS source_file,
    CASE
        WHEN failed = 1 THEN wrong.shown || ' systolic/mean/diastolic; ' || CAST(wrong.moments AS VARCHAR)
            || ' such moments'
    END AS found
FROM case_readings
LEFT JOIN wrong ON wrong.case_id = case_readings.case_id
WHERE case_readings.pressures >= 2
