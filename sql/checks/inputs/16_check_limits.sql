-- check_limits: the limits that hold for each animal of a recent case, or of one with a recent event.
--
-- Kept    table
-- Grain   one row a case, measure and parameter
-- Reads   cases, check_cases, events, check_recent, seed_limits, seed_events
-- Units   limits in the parameter's own unit
-- Source  seed_limits
--
-- Rules
--   A reading is past the limit where it is above `above` and below `below`; a limit that is not set is far away.

WITH

recent AS (
    SELECT check_cases.case_id
    FROM check_cases
    INNER JOIN check_recent ON check_cases.start_s >= check_recent.from_s
    UNION
    SELECT events.case_id
    FROM events
    INNER JOIN check_recent ON events.occurred_at_s >= check_recent.from_s
)

SELECT DISTINCT
    cases.case_id,
    seed_limits.measure,
    seed_limits.parameter,
    coalesce(seed_limits.above, -1e9) AS above,
    coalesce(seed_limits.below, 1e9) AS below
FROM recent
INNER JOIN cases ON cases.case_id = recent.case_id
INNER JOIN seed_limits
    ON seed_limits.species = cases.species
    AND (
        seed_limits.over_kg IS NULL
        OR (cases.weight_kg > seed_limits.over_kg AND cases.weight_kg <= seed_limits.upto_kg)
    )
WHERE seed_limits.measure IN (SELECT event FROM seed_events)
