-- stock_opened_in_date: was a pack opened or supplied before its expiry date?
--
-- Judges  every pack opened or supplied whose lot has an expiry date
-- Reads   stock

WITH

lots AS (
    SELECT item, lot, max(expires_on) AS expires_on
    FROM stock
    WHERE lot IS NOT NULL AND expires_on IS NOT NULL
    GROUP BY item, lot
)

SELECT
    CASE WHEN CAST(stock."at" AS DATE) > lots.expires_on THEN 1 ELSE 0 END AS failed,
    stock.source_file,
    stock.source_row,
    stock.person,
    CASE
        WHEN failed = 1 THEN stock.item || ' lot ' || stock.lot || ' expired ' || CAST(lots.expires_on AS VARCHAR)
    END AS found
FROM stock
INNER JOIN lots ON lots.item = stock.item AND lots.lot = stock.lot
WHERE stock.movement IN ('opened', 'supplied') AND stock."at" IS NOT NULL
