-- vitals_no_co2: did end-tidal CO2 stay away for longer than a disconnection?
--
-- Judges  every case with end-tidal CO2
-- Reads   vital_groups, vitals, check_values
-- Units   mmHg
--
-- Rules
--   A run of more than etco2_disconnected_run readings at or under etco2_disconnected_max. Apnea, cardiac arrest
--   or a capnograph left off: the readings stay in the measures, somebody looks.

WITH

low AS (
    SELECT vital_groups.case_id
    FROM vital_groups
    CROSS JOIN check_values
    WHERE vital_groups.parameter = 'etco2' AND vital_groups.lowest <= check_values.etco2_disconnected_max
),

readings AS (
    SELECT
        vitals.case_id,
        vitals.taken_at_s,
        CASE WHEN vitals.value <= check_values.etco2_disconnected_max THEN 1 ELSE 0 END AS away,
        row_number() OVER (PARTITION BY vitals.case_id ORDER BY vitals.taken_at_s)
            - row_number() OVER (
                PARTITION BY vitals.case_id, vitals.value <= check_values.etco2_disconnected_max
                ORDER BY vitals.taken_at_s
            ) AS run_no
    FROM low
    CROSS JOIN check_values
    INNER JOIN vitals ON vitals.case_id = low.case_id AND vitals.parameter = 'etco2'
    WHERE vitals.value IS NOT NULL
),

runs AS (
    SELECT case_id, run_no, count(*) AS readings, min(taken_at_s) AS first_s
    FROM readings
    WHERE away = 1
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
    CAST(longest.readings AS VARCHAR) || ' readings running with no CO2' AS found
FROM vital_groups
CROSS JOIN check_values
LEFT JOIN longest ON longest.case_id = vital_groups.case_id
WHERE vital_groups.parameter = 'etco2' AND vital_groups.filled > 0
