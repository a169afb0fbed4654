-- events_sign_seen: was a charted event seen by the readings around it?
--
-- Judges  every recent event with a limit, with at least one reading of its parameter within sign_window_min
-- Reads   events, check_limits, vitals, check_recent, check_values
--
-- Rules
--   Beyond means past the animal's limit. Where an event has two parameters, either counts.

WITH

timed AS (
    SELECT
        events.source_file,
        events.source_row,
        events.case_id,
        events.event,
        events.occurred_at_s,
        check_limits.parameter,
        check_limits.above,
        check_limits.below
    FROM events
    INNER JOIN check_limits ON check_limits.case_id = events.case_id AND check_limits.measure = events.event
    CROSS JOIN check_recent
    WHERE events.occurred_at_s >= check_recent.from_s
),

seen AS (
    SELECT
        timed.source_file,
        timed.source_row,
        timed.case_id,
        timed.event,
        max(CASE WHEN vitals.value > timed.above AND vitals.value < timed.below THEN 1 ELSE 0 END) AS beyond,
        min(vitals.value) AS lowest,
        max(vitals.value) AS highest
    FROM timed
    CROSS JOIN check_values
    INNER JOIN vitals
        ON vitals.case_id = timed.case_id
        AND vitals.parameter = timed.parameter
        AND vitals.taken_at_s BETWEEN timed.occurred_at_s - 60 * CAST(check_values.sign_window_min AS BIGINT)
            AND timed.occurred_at_s + 60 * CAST(check_values.sign_window_min AS BIGINT)
    WHERE vitals.value IS NOT NULL
    GROUP BY timed.source_file, timed.source_row, timed.case_id, timed.event
)

SELECT
    1 - beyond AS failed,
    case_id,
    source_file,
    source_row,
    CASE
        WHEN failed = 1 THEN event || ', readings around it from ' || CAST(lowest AS VARCHAR) || ' to '
            || CAST(highest AS VARCHAR)
    END AS found
FROM seen
