-- case_complications: what was charted, where complications are charted at all.
--
-- Grain   one row a case with a start and measure
-- Reads   case_windows, recorded_sites, stg_events, seed_events, seed_event_recording
-- Units   none
-- Source  seed_event_recording holds the clinic's [events] settings
-- Built   by case
--
-- Rules
--   Events are recorded at the recorded sites, from the day the settings name. complication is any charted event
--   but other, at whatever time; complication_<event> that one.

WITH

recording AS (
    SELECT max(from_day) AS from_day, max(CASE WHEN everywhere THEN 1 ELSE 0 END) AS everywhere
    FROM seed_event_recording
),

judged AS (
    SELECT
        case_windows.case_id,
        CASE
            WHEN recording.from_day IS NOT NULL AND case_windows.start_day < recording.from_day THEN 0
            WHEN recording.everywhere = 1 OR recorded_sites.site IS NOT NULL THEN 1
            ELSE 0
        END AS assessable
    FROM case_windows
    CROSS JOIN recording
    LEFT JOIN recorded_sites ON recorded_sites.site = coalesce(case_windows.site, '')
),

charted AS (
    SELECT DISTINCT case_id, concat('complication_', event) AS measure
    FROM stg_events
    WHERE event <> 'other'
    UNION
    SELECT DISTINCT case_id, 'complication' AS measure
    FROM stg_events
    WHERE event <> 'other'
),

measures AS (
    SELECT 'complication' AS measure
    UNION ALL
    SELECT concat('complication_', event) AS measure
    FROM seed_events
    WHERE event <> 'other'
)

SELECT
    judged.case_id,
    measures.measure,
    judged.assessable,
    CASE
        WHEN judged.assessable = 0 THEN NULL
        WHEN charted.case_id IS NOT NULL THEN 1
        ELSE 0
    END AS has
FROM judged
CROSS JOIN measures
LEFT JOIN charted
    ON charted.case_id = judged.case_id
    AND charted.measure = measures.measure
