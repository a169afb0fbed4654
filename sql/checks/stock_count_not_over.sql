-- stock_count_not_over: is no more there than the movements leave?
--
-- Judges  every count after another of an item whose supplies are charted
-- Reads   stock, check_values
--
-- Rules
--   Expected = last count + received + returned - supplied - discarded - expired; opening a pack moves nothing.
--   Over by more than drug_book_tolerance_ml, in the item's unit: a delivery or a return was not written down.

WITH

moves AS (
    SELECT
        stock.*,
        sum(CASE WHEN movement = 'counted' THEN 1 ELSE 0 END) OVER (
            PARTITION BY item
            ORDER BY at_s, CASE movement WHEN 'counted' THEN 1 ELSE 0 END, source_file, source_row
            ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) - CASE WHEN movement = 'counted' THEN 1 ELSE 0 END AS count_no
    FROM stock
    WHERE at_s IS NOT NULL
),

spans AS (
    SELECT
        item,
        count_no,
        sum(CASE
            WHEN movement IN ('received', 'returned') THEN quantity
            WHEN movement IN ('supplied', 'discarded', 'expired') THEN -quantity
            ELSE 0e0
        END) AS moved,
        max(CASE WHEN movement = 'counted' THEN quantity END) AS counted,
        max(CASE WHEN movement = 'counted' THEN source_file END) AS source_file,
        max(CASE WHEN movement = 'counted' THEN source_row END) AS source_row,
        max(CASE WHEN movement = 'counted' THEN CAST("at" AS VARCHAR) END) AS counted_at,
        sum(CASE WHEN quantity IS NULL THEN 1 ELSE 0 END) AS unknown
    FROM moves
    GROUP BY item, count_no
),

balances AS (
    SELECT
        spans.*,
        lag(counted) OVER (PARTITION BY item ORDER BY count_no) + moved AS expected
    FROM spans
    WHERE item IN (SELECT item FROM stock WHERE movement = 'supplied')
)

SELECT
    CASE
        WHEN balances.unknown > 0 THEN NULL
        WHEN balances.counted > balances.expected + check_values.drug_book_tolerance_ml + 1e-9 THEN 1
        ELSE 0
    END AS failed,
    balances.source_file,
    balances.source_row,
    CASE
        WHEN failed = 1 THEN balances.item || ' ' || balances.counted_at || ', counted '
            || CAST(balances.counted AS VARCHAR) || ', expected '
            || CAST(floor(balances.expected * 1000e0 + 0.5e0) / 1000e0 AS VARCHAR)
    END AS found
FROM balances
CROSS JOIN check_values
WHERE balances.counted IS NOT NULL AND balances.expected IS NOT NULL
