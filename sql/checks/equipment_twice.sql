-- equipment_twice: was one action charted twice?
--
-- Judges  every action with a time
-- Reads   equipment

SELECT
    CASE
        WHEN row_number() OVER (
            PARTITION BY machine_id, at_s, item, action, value ORDER BY source_file, source_row
        ) > 1 THEN 1
        ELSE 0
    END AS failed,
    case_id,
    source_file,
    source_row,
    person,
    CASE
        WHEN failed = 1 THEN machine_id || ' ' || item || ' ' || action || ' at ' || CAST("at" AS VARCHAR)
            || ' stands twice'
    END AS found
FROM equipment
WHERE at_s IS NOT NULL
