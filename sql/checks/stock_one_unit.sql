-- stock_one_unit: is an item always counted in the same unit?
--
-- Judges  every movement with a unit
-- Reads   stock

WITH

units AS (
    SELECT item, unit, count(*) AS rows
    FROM stock
    WHERE item IS NOT NULL AND unit IS NOT NULL
    GROUP BY item, unit
),

usual AS (
    SELECT item, unit, row_number() OVER (PARTITION BY item ORDER BY rows DESC, unit) AS place
    FROM units
)

SELECT
    CASE WHEN stock.unit <> usual.unit THEN 1 ELSE 0 END AS failed,
    stock.source_file,
    stock.source_row,
    stock.person,
    CASE WHEN failed = 1 THEN stock.item || ' in ' || stock.unit || ', else in ' || usual.unit END AS found
FROM stock
INNER JOIN usual ON usual.item = stock.item AND usual.place = 1
WHERE stock.unit IS NOT NULL
