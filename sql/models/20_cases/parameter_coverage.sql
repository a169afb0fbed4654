-- parameter_coverage: how much of each anesthetic a parameter was observed.
--
-- Grain   one row a case and parameter with a valid reading from start to end
-- Reads   parameter_holds, seed_windows
-- Units   seconds
-- Source  the readings a stretch must have are a row of seed_windows
-- Built   by case
--
-- Rules
--   A stretch lasts from its first reading to the end of its last one's hold: within it every reading holds until
--   the next. observed_s counts every stretch, covered_s only those with enough readings.

WITH

numbers AS (
    SELECT max(CASE WHEN name = 'min_readings' THEN val END) AS min_readings
    FROM seed_windows
),

stretches AS (
    SELECT
        case_id,
        parameter,
        stretch_no,
        max(reading_no) - min(reading_no) + 1 AS readings,
        max(taken_s + hold_s) - min(taken_s) AS stretch_s
    FROM parameter_holds
    GROUP BY case_id, parameter, stretch_no
)

SELECT
    stretches.case_id,
    stretches.parameter,
    CAST(sum(stretches.readings) AS BIGINT) AS readings,
    CAST(sum(stretches.stretch_s) AS BIGINT) AS observed_s,
    CAST(sum(CASE WHEN stretches.readings >= numbers.min_readings THEN stretches.stretch_s ELSE 0 END) AS BIGINT)
        AS covered_s
FROM stretches
CROSS JOIN numbers
GROUP BY stretches.case_id, stretches.parameter
