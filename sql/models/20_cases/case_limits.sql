-- case_limits: the limits that hold for each animal.
--
-- Grain   one row a case with a start, measure and parameter
-- Reads   case_windows, stg_cases, seed_limits
-- Units   limits in the parameter's own unit; kg
-- Source  seed_limits, one row a measure, species and size
-- Built   by case
--
-- Rules
--   A limit by size needs a weight; over_kg is outside the band, upto_kg inside.

SELECT
    case_windows.case_id,
    seed_limits.measure,
    seed_limits.parameter,
    seed_limits.rank AS rank_no,
    seed_limits.above,
    seed_limits.below,
    seed_limits.at_most,
    seed_limits.depth_from
FROM case_windows
INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
INNER JOIN seed_limits
    ON seed_limits.species = stg_cases.species
    AND (
        seed_limits.over_kg IS NULL
        OR (stg_cases.weight_kg > seed_limits.over_kg AND stg_cases.weight_kg <= seed_limits.upto_kg)
    )
