-- case_temperature_bands: in which band of the temperature scheme each case fell.
--
-- Grain   one row a case of case_temperatures and measure, lowest (highest) and at the end
-- Reads   case_temperatures, seed_temperature
-- Units   °C
-- Source  bands are rows of seed_temperature, half-open as written there
-- Built   by case
--
-- Rules
--   The lowest (hyperthermia: the highest) temperature decides; with _at_end the last under anesthesia.

WITH

judged AS (
    SELECT
        case_temperatures.case_id,
        seed_temperature.measure,
        CASE
            WHEN seed_temperature.reading = 'highest' THEN case_temperatures.highest ELSE case_temperatures.lowest
        END AS val,
        seed_temperature.at_least,
        seed_temperature.below,
        seed_temperature.at_most,
        seed_temperature.above
    FROM case_temperatures
    INNER JOIN seed_temperature ON seed_temperature.species = case_temperatures.species
    UNION ALL
    SELECT
        case_temperatures.case_id,
        concat(seed_temperature.measure, '_at_end') AS measure,
        case_temperatures.last_in_anesthesia AS val,
        seed_temperature.at_least,
        seed_temperature.below,
        seed_temperature.at_most,
        seed_temperature.above
    FROM case_temperatures
    INNER JOIN seed_temperature ON seed_temperature.species = case_temperatures.species
)

SELECT
    case_id,
    measure,
    CASE WHEN val IS NULL THEN 0 ELSE 1 END AS assessable,
    CASE
        WHEN val IS NULL THEN NULL
        WHEN (at_least IS NULL OR val >= at_least)
            AND (below IS NULL OR val < below)
            AND (at_most IS NULL OR val <= at_most)
            AND (above IS NULL OR val > above)
            THEN 1
        ELSE 0
    END AS has
FROM judged
