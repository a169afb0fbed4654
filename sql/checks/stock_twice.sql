-- stock_twice: was one movement charted twice?
--
-- Judges  every movement with a time
-- Reads   stock

SELECT
    CASE
        WHEN row_number() OVER (
            PARTITION BY item, at_s, movement, quantity, lot ORDER BY source_file, source_row
        ) > 1 THEN 1
        ELSE 0
    END AS failed,
    source_file,
    source_row,
    person,
    CASE
        WHEN failed = 1 THEN item || ' ' || movement || ' at ' || CAST("at" AS VARCHAR) || ' stands twice'
    END AS found
FROM stock
WHERE at_s IS NOT NULL
