-- vitals_no_co2: did end-tidal CO2 stay away for longer than a disconnection?
--
-- Judges  every case with end-tidal CO2
-- Reads   vital_groups, doubtful_readings, check_values
-- Units   mmHg
--
-- Rules
--   A run of more than etco2_disconnected_run readings at or under etco2_disconnected_max. Apnea, cardiac arrest
--   or a capnograph left off: the readings stay in the measures, somebody looks.

WITH

readings AS (
    SELECT
        readings.case_id,
        readings.group_no,
        readings.taken_at_s,
        CASE WHEN readings.value <= check_values.etco2_disconnected_max THEN 1 ELSE 0 END AS away,
        row_number() OVER (PARTITION BY readings.group_no ORDER BY readings.taken_at_s) AS place
    FROM vital_groups
    CROSS JOIN check_values
    INNER JOIN doubtful_readings AS readings ON readings.case_id = vital_groups.case_id AND readings.parameter = 'etco2'
    WHERE vital_groups.parameter = 'etco2' AND vital_groups.lowest <= check_values.etco2_disconnected_max
        AND readings.value IS NOT NULL
),

away AS (
    SELECT case_id, taken_at_s, place - row_number() OVER (PARTITION BY group_no ORDER BY place) AS run_no
    FROM readings
    WHERE away = 1
),

runs AS (
    SELECT case_id, run_no, count(*) AS readings, min(taken_at_s) AS first_s
    FROM away
    GROUP BY case_id, run_no
),

longest AS (
    SELECT case_id, max(readings) AS readings, arg_max(first_s, readings) AS first_s
    FROM runs
    GROUP BY case_id
)

SELECT
    CASE WHEN longest.readings > check_values.etco2_disconnected_run THEN 1 ELSE 0 END AS failed,
    vital_groups.case_id,
    vital_groups.parameter,
    longest.first_s AS at_s,
    vital_groups.first_file AS source_file,
    CASE WHEN failed = 1 THEN CAST(longest.readings AS VARCHAR) || ' readings running with no CO2' END AS found
FROM vital_groups
CROSS JOIN check_values
LEFT JOIN longest ON longest.case_id = vital_groups.case_id
WHERE vital_groups.parameter = 'etco2'
