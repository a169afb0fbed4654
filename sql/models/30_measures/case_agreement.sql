-- case_agreement: what the readings show against what was charted.
--
-- Grain   one row a case with a start and measure, where both could be judged
-- Reads   case_exposures, case_temperature_bands, case_complications, case_windows, stg_events
-- Units   detected, charted 0 or 1
-- Source  none
-- Built   by case
--
-- Rules
--   Charted: an event of that name from start to end, or without a time.

WITH

detected AS (
    SELECT case_id, measure, has
    FROM case_exposures
    WHERE assessable = 1
        AND measure IN (
            'hypoventilation', 'hyperventilation', 'hypoxemia', 'hypotension', 'bradycardia', 'tachycardia'
        )
    UNION ALL
    SELECT case_id, measure, has
    FROM case_temperature_bands
    WHERE assessable = 1 AND measure = 'hypothermia'
),

charted AS (
    SELECT DISTINCT stg_events.case_id, stg_events.event
    FROM stg_events
    INNER JOIN case_windows ON case_windows.case_id = stg_events.case_id
    WHERE stg_events.occurred_s IS NULL
        OR (stg_events.occurred_s >= case_windows.start_s AND stg_events.occurred_s <= case_windows.end_s)
)

SELECT
    detected.case_id,
    detected.measure,
    detected.has AS detected,
    CASE WHEN charted.case_id IS NULL THEN 0 ELSE 1 END AS charted
FROM detected
INNER JOIN case_complications
    ON case_complications.case_id = detected.case_id
    AND case_complications.measure = 'complication'
    AND case_complications.assessable = 1
LEFT JOIN charted
    ON charted.case_id = detected.case_id
    AND charted.event = detected.measure
