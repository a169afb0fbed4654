-- case_temperatures: the lowest, the highest and the last temperature, and when limits were crossed.
--
-- Grain   one row a case with a start and an end after it, of a species with a temperature scheme
-- Reads   case_windows, stg_cases, vital_readings, seed_temperature
-- Units   temperatures °C; *_s seconds of UTC since 1970
-- Source  the scheme is rows of seed_temperature
-- Built   by case
--
-- Rules
--   Valid readings only, no hold. Lowest, highest and first cold from start to the end of recovery, last from
--   start to end. Rewarming strictly after end: the first reading at or above the limit, else the last reading.

WITH

scheme AS (
    SELECT species, max(below) AS cold_below
    FROM seed_temperature
    WHERE measure = 'hypothermia'
    GROUP BY species
),

animals AS (
    SELECT
        case_windows.case_id,
        case_windows.start_s,
        case_windows.end_s,
        case_windows.recovery_end_s,
        stg_cases.species,
        scheme.cold_below
    FROM case_windows
    INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
    INNER JOIN scheme ON scheme.species = stg_cases.species
    WHERE case_windows.window_s IS NOT NULL
),

readings AS (
    SELECT
        animals.case_id,
        animals.cold_below,
        vital_readings.taken_s,
        vital_readings.val,
        CASE WHEN vital_readings.taken_s <= animals.end_s THEN 1 ELSE 0 END AS in_anesthesia,
        CASE WHEN vital_readings.taken_s <= animals.recovery_end_s THEN 1 ELSE 0 END AS in_record,
        row_number() OVER (
            PARTITION BY animals.case_id, CASE WHEN vital_readings.taken_s <= animals.end_s THEN 1 ELSE 0 END
            ORDER BY vital_readings.taken_s DESC, vital_readings.val DESC
        ) AS from_last
    FROM animals
    INNER JOIN vital_readings
        ON vital_readings.case_id = animals.case_id
        AND vital_readings.taken_s >= animals.start_s
    WHERE vital_readings.parameter = 'temperature'
        AND vital_readings.reason IS NULL
),

summed AS (
    SELECT
        case_id,
        min(CASE WHEN in_record = 1 THEN val END) AS lowest,
        max(CASE WHEN in_record = 1 THEN val END) AS highest,
        min(CASE WHEN in_record = 1 AND val < cold_below THEN taken_s END) AS first_cold_s,
        max(CASE WHEN in_record = 1 THEN taken_s END) AS last_in_record_s,
        max(CASE WHEN in_anesthesia = 1 AND from_last = 1 THEN val END) AS last_in_anesthesia,
        min(CASE WHEN in_anesthesia = 0 AND val >= cold_below THEN taken_s END) AS first_warm_s,
        max(CASE WHEN in_anesthesia = 0 THEN taken_s END) AS last_after_s
    FROM readings
    GROUP BY case_id
)

SELECT
    animals.case_id,
    animals.species,
    animals.start_s,
    animals.end_s,
    animals.cold_below,
    summed.lowest,
    summed.highest,
    summed.first_cold_s,
    summed.last_in_record_s,
    summed.last_in_anesthesia,
    summed.first_warm_s,
    summed.last_after_s
FROM animals
LEFT JOIN summed ON summed.case_id = animals.case_id
