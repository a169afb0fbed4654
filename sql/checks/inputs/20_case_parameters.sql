-- case_parameters: what a reading of a case is held against: the animal's bounds and the sheet's times.
--
-- Kept    table
-- Grain   one row a case and parameter that any reading names
-- Reads   vitals, check_cases, seed_plausibility, seed_check_bounds, check_values
-- Units   low, high in the parameter's unit; from_s, to_s, off_s, died_s seconds of UTC since 1970

WITH

bounds AS (
    SELECT parameter, species, agent, low, high FROM seed_plausibility
    UNION ALL
    SELECT parameter, species, agent, low, high FROM seed_check_bounds
),

one_case AS (
    SELECT
        case_id,
        min(species) AS species,
        min(agent) AS agent,
        min(first_s) AS first_s,
        max(last_s) AS last_s,
        min(vaporizer_off_at_s) AS off_s,
        min(died_s) AS died_s
    FROM check_cases
    GROUP BY case_id
),

parameters AS (
    SELECT DISTINCT parameter FROM vitals
)

SELECT
    one_case.case_id,
    parameters.parameter,
    bounds.low,
    bounds.high,
    one_case.first_s - CAST(check_values.reading_margin_min AS BIGINT) * 60 AS from_s,
    one_case.last_s + CAST(check_values.reading_margin_min AS BIGINT) * 60 AS to_s,
    one_case.off_s,
    one_case.died_s
FROM one_case
CROSS JOIN parameters
CROSS JOIN check_values
LEFT JOIN bounds
    ON bounds.parameter = parameters.parameter
    AND (bounds.species IS NULL OR bounds.species = one_case.species)
    AND (bounds.agent IS NULL OR bounds.agent = one_case.agent)
