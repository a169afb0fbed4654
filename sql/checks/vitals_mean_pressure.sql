-- vitals_mean_pressure: does the mean pressure lie where systolic and diastolic put it?
--
-- Judges  every recent moment with all three pressures, in order
-- Reads   vitals, check_recent, check_values
-- Units   mmHg
-- Source  mean = diastolic + (systolic - diastolic) / 3, near enough: a rule of the trade

WITH

moments AS (
    SELECT
        vitals.case_id,
        vitals.taken_at_s,
        min(vitals.source_file) AS source_file,
        max(CASE WHEN vitals.parameter = 'sap' THEN vitals.value END) AS sap,
        max(CASE WHEN vitals.parameter = 'map' THEN vitals.value END) AS map,
        max(CASE WHEN vitals.parameter = 'dap' THEN vitals.value END) AS dap
    FROM vitals
    CROSS JOIN check_recent
    WHERE vitals.parameter IN ('sap', 'map', 'dap') AND vitals.taken_at_s >= check_recent.from_s
    GROUP BY vitals.case_id, vitals.taken_at_s
)

SELECT
    CASE
        WHEN abs(moments.map - moments.dap - (moments.sap - moments.dap) / 3e0) > check_values.mean_pressure_mmhg THEN 1
        ELSE 0
    END AS failed,
    moments.case_id,
    'map' AS parameter,
    moments.taken_at_s AS at_s,
    moments.source_file,
    CASE
        WHEN failed = 1 THEN CAST(moments.sap AS VARCHAR) || '/' || CAST(moments.map AS VARCHAR) || '/'
            || CAST(moments.dap AS VARCHAR) || ' systolic/mean/diastolic'
    END AS found
FROM moments
CROSS JOIN check_values
WHERE moments.sap >= moments.map AND moments.map >= moments.dap
