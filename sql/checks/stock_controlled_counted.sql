-- stock_controlled_counted: is every controlled drug counted each month it moves?
--
-- Judges  every month and controlled item with a movement
-- Reads   check_stock
-- Source  RCVS Controlled Drugs Guidance: regular audit of all controlled drugs

SELECT
    CASE WHEN sum(CASE WHEN movement = 'counted' THEN 1 ELSE 0 END) = 0 THEN 1 ELSE 0 END AS failed,
    min(source_file) AS source_file,
    min(source_row) AS source_row,
    CASE WHEN failed = 1 THEN item || ' not counted in ' || strftime(min("at"), '%Y-%m') END AS found
FROM check_stock
WHERE control <> '' AND "at" IS NOT NULL
GROUP BY item, year("at"), month("at")
