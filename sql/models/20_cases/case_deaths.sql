-- case_deaths: who was dead, euthanised or known alive at the end of the death window, and why not known.
--
-- Grain   one row a case with a start
-- Reads   case_windows, stg_cases, stg_events, record_end, seed_windows
-- Units   *_s seconds of UTC since 1970
-- Source  the window is a row of seed_windows (Brodbelt et al. 2008)
--
-- Rules
--   fate is the first of: no_end, euthanised, died (in the window, or at no known time), before_start,
--   survived (died or euthanised later, or followed to the window's end), too_recent, assumed alive, lost.
--   euthanised overrides a death event; outcome_at is a time of death only with outcome died.

WITH

numbers AS (
    SELECT
        CAST(floor(3600e0 * max(CASE WHEN name = 'death_window_h' THEN val END)) AS BIGINT) AS death_window_s,
        max(CASE WHEN name = 'assume_alive' THEN val END) AS assume_alive
    FROM seed_windows
),

death_events AS (
    SELECT case_id, min(occurred_s) AS occurred_s
    FROM stg_events
    WHERE event = 'death'
    GROUP BY case_id
),

known AS (
    SELECT
        case_windows.case_id,
        case_windows.start_s,
        case_windows.window_s,
        CASE WHEN case_windows.window_s IS NOT NULL THEN case_windows.end_s + numbers.death_window_s END AS judged_s,
        CASE WHEN stg_cases.outcome = 'euthanised' THEN 1 ELSE 0 END AS euthanised,
        CASE
            WHEN stg_cases.outcome = 'euthanised' THEN 0
            WHEN stg_cases.outcome = 'died' OR death_events.case_id IS NOT NULL THEN 1
            ELSE 0
        END AS died,
        CASE WHEN stg_cases.outcome = 'died' THEN coalesce(stg_cases.outcome_s, death_events.occurred_s)
            ELSE death_events.occurred_s
        END AS death_s,
        stg_cases.outcome_s,
        stg_cases.followed_s,
        numbers.assume_alive,
        record_end.as_of_s - numbers.death_window_s AS recent_s
    FROM case_windows
    INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
    CROSS JOIN numbers
    CROSS JOIN record_end
    LEFT JOIN death_events ON death_events.case_id = case_windows.case_id
),

judged AS (
    SELECT
        known.case_id,
        known.euthanised,
        known.outcome_s,
        known.judged_s,
        known.death_s,
        CASE
            WHEN known.judged_s IS NULL THEN 'no_end'
            WHEN known.euthanised = 1 AND (known.outcome_s IS NULL OR known.outcome_s <= known.judged_s)
                THEN 'euthanised'
            WHEN known.euthanised = 1 THEN 'survived'
            WHEN known.died = 1 AND known.death_s IS NULL THEN 'died'
            WHEN known.died = 1 AND known.death_s < known.start_s THEN 'before_start'
            WHEN known.died = 1 AND known.death_s <= known.judged_s THEN 'died'
            WHEN known.died = 1 THEN 'survived'
            WHEN known.followed_s >= known.judged_s OR known.outcome_s >= known.judged_s THEN 'survived'
            WHEN known.start_s > known.recent_s THEN 'too_recent'
            WHEN known.assume_alive = 1 THEN 'assumed_alive'
            ELSE 'lost'
        END AS fate
    FROM known
)

SELECT
    case_id,
    fate,
    death_s,
    CASE WHEN fate = 'died' AND death_s IS NULL THEN 1 ELSE 0 END AS time_not_recorded,
    CASE WHEN fate IN ('died', 'survived', 'assumed_alive') THEN 1 ELSE 0 END AS death_assessable,
    CASE
        WHEN euthanised = 1 AND (outcome_s IS NULL OR outcome_s <= judged_s) THEN 1
        ELSE 0
    END AS euthanised_48h
FROM judged
