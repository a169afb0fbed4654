-- check_bounds: the bounds of every parameter for every kind of animal and inhalant among the cases.
--
-- Kept    table
-- Grain   one row a parameter, species and agent; '' stands for unknown
-- Reads   check_cases, seed_plausibility, seed_check_bounds
-- Units   low, high in the parameter's unit

WITH

bounds AS (
    SELECT parameter, species, agent, low, high FROM seed_plausibility
    UNION ALL
    SELECT parameter, species, agent, low, high FROM seed_check_bounds
),

kinds AS (
    SELECT coalesce(species, '') AS species, coalesce(agent, '') AS agent FROM check_cases
    UNION
    SELECT '' AS species, '' AS agent
)

SELECT bounds.parameter, kinds.species, kinds.agent, bounds.low, bounds.high
FROM kinds
INNER JOIN bounds
    ON (bounds.species IS NULL OR bounds.species = kinds.species)
    AND (bounds.agent IS NULL OR bounds.agent = kinds.agent)
