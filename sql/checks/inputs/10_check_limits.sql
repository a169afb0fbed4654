-- check_limits: the limits that hold for each animal.
--
-- Kept    table
-- Grain   one row a case, measure and parameter
-- Reads   cases, seed_limits, seed_events
-- Units   limits in the parameter's own unit
-- Source  seed_limits
--
-- Rules
--   A reading is past the limit where it is above `above` and below `below`; a limit that is not set is far away.

SELECT DISTINCT
    cases.case_id,
    seed_limits.measure,
    seed_limits.parameter,
    coalesce(seed_limits.above, -1e9) AS above,
    coalesce(seed_limits.below, 1e9) AS below
FROM cases
INNER JOIN seed_limits
    ON seed_limits.species = cases.species
    AND (
        seed_limits.over_kg IS NULL
        OR (cases.weight_kg > seed_limits.over_kg AND cases.weight_kg <= seed_limits.upto_kg)
    )
WHERE seed_limits.measure IN (SELECT event FROM seed_events)
