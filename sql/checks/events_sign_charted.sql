-- events_sign_charted: was a sign that the readings show charted as an event?
--
-- Judges  every recent case and event with a sign in the readings, where events are charted
-- Reads   check_cases, check_limits, vital_groups, vitals, events, check_recent, check_values
--
-- Rules
--   A sign is at least sign_readings readings past the animal's limit between start and end, the first and last
--   at least sign_min apart. The measures judge it more closely; this is a reminder to chart.

WITH

candidates AS (
    SELECT
        check_limits.case_id,
        check_limits.measure,
        check_limits.parameter,
        check_limits.above,
        check_limits.below,
        check_cases.start_s,
        check_cases.end_s,
        check_cases.source_file,
        check_cases.source_row
    FROM check_limits
    INNER JOIN check_cases ON check_cases.case_id = check_limits.case_id
    INNER JOIN vital_groups
        ON vital_groups.case_id = check_limits.case_id AND vital_groups.parameter = check_limits.parameter
    CROSS JOIN check_recent
    WHERE vital_groups.lowest < check_limits.below AND vital_groups.highest > check_limits.above
        AND check_cases.start_s >= check_recent.from_s
        AND check_cases.end_s > check_cases.start_s
        AND (SELECT count(*) FROM events) > 0
),

signs AS (
    SELECT
        candidates.case_id,
        candidates.measure,
        min(candidates.source_file) AS source_file,
        min(candidates.source_row) AS source_row,
        candidates.parameter,
        count(*) AS readings,
        min(vitals.taken_at_s) AS first_s,
        max(vitals.taken_at_s) AS last_s
    FROM candidates
    INNER JOIN vitals
        ON vitals.case_id = candidates.case_id
        AND vitals.parameter = candidates.parameter
        AND vitals.taken_at_s BETWEEN candidates.start_s AND candidates.end_s
    WHERE vitals.value > candidates.above AND vitals.value < candidates.below
    GROUP BY candidates.case_id, candidates.measure, candidates.parameter
),

lasting AS (
    SELECT
        signs.case_id,
        signs.measure,
        min(signs.source_file) AS source_file,
        min(signs.source_row) AS source_row,
        max(signs.readings) AS readings,
        max(signs.last_s - signs.first_s) // 60 AS minutes
    FROM signs
    CROSS JOIN check_values
    WHERE signs.readings >= check_values.sign_readings
        AND signs.last_s - signs.first_s >= 60e0 * check_values.sign_min
    GROUP BY signs.case_id, signs.measure
)

SELECT
    CASE WHEN charted.case_id IS NULL THEN 1 ELSE 0 END AS failed,
    lasting.case_id,
    lasting.source_file,
    lasting.source_row,
    CASE
        WHEN failed = 1 THEN 'no ' || lasting.measure || ' charted, ' || CAST(lasting.readings AS VARCHAR)
            || ' readings past the limit over ' || CAST(lasting.minutes AS VARCHAR) || ' min'
    END AS found
FROM lasting
LEFT JOIN (SELECT DISTINCT case_id, event FROM events) AS charted
    ON charted.case_id = lasting.case_id AND charted.event = lasting.measure
