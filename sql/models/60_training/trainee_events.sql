-- trainee_events: complications that happened while a person had a part in the case.
--
-- Grain   one row per case, person, role and event
-- Reads   case_parts, case_windows, stg_events, trainee_log
-- Units   times_charted: rows of that event in the case; occurred_s seconds UTC, the first of them
-- Source  the project's own rule
--
-- Rules
--   An event is met by a part that was running when it happened, ends included. An event without a time, or a part
--   that cannot be placed, is met. An event after the window is met by parts that reach its end: recovery is theirs.
--   Meeting a complication says nothing about its cause.
WITH reach AS (
    SELECT
        parts.case_id,
        parts.person,
        parts.role,
        parts.from_s,
        CASE WHEN parts.to_s < windows.end_s THEN parts.to_s END AS left_s,
        CASE WHEN parts.from_s > windows.start_s THEN parts.from_s END AS joined_s
    FROM case_parts AS parts
    LEFT JOIN case_windows AS windows ON windows.case_id = parts.case_id
),

met AS (
    SELECT DISTINCT
        reach.case_id,
        reach.person,
        reach.role,
        events.event,
        events.occurred_s,
        events.severity,
        events.source_file,
        events.source_row
    FROM reach
    INNER JOIN stg_events AS events ON events.case_id = reach.case_id
    WHERE events.occurred_s IS NULL OR reach.from_s IS NULL
        OR ((reach.joined_s IS NULL OR events.occurred_s >= reach.joined_s)
            AND (reach.left_s IS NULL OR events.occurred_s <= reach.left_s))
)

SELECT
    met.case_id,
    met.person,
    met.role,
    met.event,
    count(*) AS times_charted,
    min(met.occurred_s) AS occurred_s,
    max(CASE met.severity WHEN 'severe' THEN 3 WHEN 'moderate' THEN 2 WHEN 'minor' THEN 1 END) AS worst,
    logged.counted,
    logged.start_day
FROM met
INNER JOIN trainee_log AS logged
    ON logged.case_id = met.case_id AND logged.person = met.person
    AND coalesce(logged.role, '-') = coalesce(met.role, '-')
GROUP BY met.case_id, met.person, met.role, met.event, logged.counted, logged.start_day
