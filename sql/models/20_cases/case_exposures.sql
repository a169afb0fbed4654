-- case_exposures: time and depth past each limit, and whether the case has it.
--
-- Grain   one row a case with a start and measure that has a limit for the case
-- Reads   case_limits, case_windows, parameter_coverage, exposure_episodes, seed_windows
-- Units   *_min minutes; area parameter's unit x minutes
-- Source  coverage, length and readings asked for are rows of seed_windows
-- Built   by case
--
-- Rules
--   Assessable: the parameter covers enough of a window that is long enough. Where a measure has two
--   parameters, the first by rank that covers enough is used.
--   The case has it if one episode has enough readings that hold and lasts long enough.

WITH

numbers AS (
    SELECT
        max(CASE WHEN name = 'min_coverage' THEN val END) AS min_coverage,
        max(CASE WHEN name = 'min_readings' THEN val END) AS min_readings,
        60e0 * max(CASE WHEN name = 'sustain_min' THEN val END) AS sustain_s
    FROM seed_windows
),

candidates AS (
    SELECT
        case_limits.case_id,
        case_limits.measure,
        case_limits.parameter,
        parameter_coverage.observed_s,
        CASE
            WHEN parameter_coverage.covered_s >= numbers.min_coverage * case_windows.window_s
                AND case_windows.window_s >= numbers.sustain_s
                THEN 1
            ELSE 0
        END AS assessable,
        row_number() OVER (
            PARTITION BY case_limits.case_id, case_limits.measure
            ORDER BY
                CASE
                    WHEN parameter_coverage.covered_s >= numbers.min_coverage * case_windows.window_s THEN 0
                    ELSE 1
                END,
                case_limits.rank_no
        ) AS choice_no
    FROM case_limits
    CROSS JOIN numbers
    INNER JOIN case_windows ON case_windows.case_id = case_limits.case_id
    LEFT JOIN parameter_coverage
        ON parameter_coverage.case_id = case_limits.case_id
        AND parameter_coverage.parameter = case_limits.parameter
),

past AS (
    SELECT
        exposure_episodes.case_id,
        exposure_episodes.measure,
        exposure_episodes.parameter,
        CAST(sum(exposure_episodes.beyond_s) AS BIGINT) AS beyond_s,
        sum(exposure_episodes.area) AS area,
        max(
            CASE
                WHEN exposure_episodes.held_readings >= numbers.min_readings
                    AND exposure_episodes.beyond_s >= numbers.sustain_s
                    THEN 1
                ELSE 0
            END
        ) AS has
    FROM exposure_episodes
    CROSS JOIN numbers
    GROUP BY exposure_episodes.case_id, exposure_episodes.measure, exposure_episodes.parameter
)

SELECT
    candidates.case_id,
    candidates.measure,
    candidates.parameter,
    candidates.assessable,
    CASE WHEN candidates.assessable = 1 THEN coalesce(past.has, 0) END AS has,
    CASE WHEN candidates.assessable = 1 THEN coalesce(past.beyond_s, 0) / 60e0 END AS beyond_min,
    CASE WHEN candidates.assessable = 1 THEN candidates.observed_s / 60e0 END AS observed_min,
    CASE WHEN candidates.assessable = 1 THEN coalesce(past.area, 0e0) END AS area
FROM candidates
LEFT JOIN past
    ON past.case_id = candidates.case_id
    AND past.measure = candidates.measure
    AND past.parameter = candidates.parameter
WHERE candidates.choice_no = 1
