-- exposure_episodes: unbroken times past a limit.
--
-- Grain   one row a case, measure, parameter and episode
-- Reads   parameter_holds, case_limits
-- Units   from_s seconds of UTC since 1970; beyond_s seconds; area parameter's unit x minutes
-- Source  none
-- Built   by case
--
-- Rules
--   An episode is consecutive readings past the limit within a stretch: a reading that is not past it, and
--   unobserved time, end it. Past means strictly past, but for at_most, which is inside.

WITH

beyond AS (
    SELECT
        parameter_holds.case_id,
        case_limits.measure,
        parameter_holds.parameter,
        parameter_holds.stretch_no,
        parameter_holds.taken_s,
        parameter_holds.hold_s,
        abs(parameter_holds.val - case_limits.depth_from) AS depth,
        parameter_holds.reading_no - row_number() OVER (
            PARTITION BY parameter_holds.case_id, case_limits.measure, parameter_holds.parameter
            ORDER BY parameter_holds.reading_no
        ) AS run_no
    FROM parameter_holds
    INNER JOIN case_limits
        ON case_limits.case_id = parameter_holds.case_id
        AND case_limits.parameter = parameter_holds.parameter
    WHERE (case_limits.above IS NULL OR parameter_holds.val > case_limits.above)
        AND (case_limits.below IS NULL OR parameter_holds.val < case_limits.below)
        AND (case_limits.at_most IS NULL OR parameter_holds.val <= case_limits.at_most)
)

SELECT
    case_id,
    measure,
    parameter,
    stretch_no,
    run_no,
    min(taken_s) AS from_s,
    CAST(sum(hold_s) AS BIGINT) AS beyond_s,
    count(*) AS readings,
    CAST(sum(CASE WHEN hold_s > 0 THEN 1 ELSE 0 END) AS BIGINT) AS held_readings,
    max(depth) AS worst_depth,
    sum(depth * hold_s) / 60e0 AS area
FROM beyond
GROUP BY case_id, measure, parameter, stretch_no, run_no
