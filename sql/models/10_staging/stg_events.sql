-- stg_events: charted complications.
--
-- Grain   one row a charted complication
-- Reads   events, set_aside_rows
-- Units   *_s seconds of UTC since 1970
-- Source  none

SELECT
    events.case_id,
    events.event,
    events.occurred_at_s AS occurred_s,
    events.resolved_at_s AS resolved_s,
    events.severity,
    events.phase,
    events.action,
    events.source_file,
    events.source_row
FROM events
LEFT JOIN set_aside_rows
    ON set_aside_rows.table_name = 'events'
    AND set_aside_rows.source_file = events.source_file
    AND set_aside_rows.source_row = events.source_row
WHERE set_aside_rows.rule_id IS NULL
