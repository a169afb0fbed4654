-- events_twice: was one event charted twice?
--
-- Judges  every event with a time
-- Reads   events

SELECT
    CASE
        WHEN row_number() OVER (
            PARTITION BY case_id, event, occurred_at_s ORDER BY source_file, source_row
        ) > 1 THEN 1
        ELSE 0
    END AS failed,
    case_id,
    source_file,
    source_row,
    CASE WHEN failed = 1 THEN event END AS found
FROM events
WHERE occurred_at_s IS NOT NULL
