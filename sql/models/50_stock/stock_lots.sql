-- stock_lots: which lots make up what stands on the shelf now, if the first to expire is used first.
--
-- Grain   one row an item and lot that was received, and one for what no received lot explains
-- Reads   stock_moves, stock_positions
-- Units   *_qty in base_unit
-- Source  none
--
-- Rules
--   A lot can hold at most what came in less what went out under its name. What stands there is given to the
--   lots that expire last first, lots without a date after the dated: these are the ones still there if the
--   first to expire went first. left_qty of an item's rows sums to what stands there; unknown where that is.

WITH

totals AS (
    SELECT
        item,
        lot,
        max(expires_on) AS expires_on,
        min(CASE WHEN movement = 'received' THEN moved_day END) AS received_day,
        sum(CASE WHEN movement = 'received' THEN qty ELSE 0e0 END) AS received_qty,
        sum(coalesce(change_qty, 0e0)) AS most_qty
    FROM stock_moves
    WHERE lot IS NOT NULL
    GROUP BY item, lot
),

received AS (
    SELECT
        item,
        lot,
        expires_on,
        received_day,
        received_qty,
        CASE WHEN most_qty > 0e0 THEN most_qty ELSE 0e0 END AS most_qty
    FROM totals
    WHERE received_qty > 0e0
),

now AS (
    SELECT item, on_hand_qty
    FROM (
        SELECT
            item,
            on_hand_qty,
            row_number() OVER (PARTITION BY item ORDER BY move_no DESC) AS from_last
        FROM stock_positions
    ) AS steps
    WHERE from_last = 1
),

stacked AS (
    SELECT
        received.item,
        received.lot,
        received.expires_on,
        received.received_day,
        received.received_qty,
        received.most_qty,
        now.on_hand_qty,
        coalesce(
            sum(received.most_qty) OVER (
                PARTITION BY received.item
                ORDER BY
                    CASE WHEN received.expires_on IS NULL THEN 1 ELSE 0 END,
                    received.expires_on DESC,
                    received.received_day DESC,
                    received.lot
                ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
            ),
            0e0
        ) AS later_qty
    FROM received
    INNER JOIN now ON now.item = received.item
),

held AS (
    SELECT
        item,
        lot,
        expires_on,
        received_day,
        received_qty,
        CASE
            WHEN on_hand_qty IS NULL THEN NULL
            WHEN on_hand_qty - later_qty <= 0e0 THEN 0e0
            WHEN on_hand_qty - later_qty < most_qty THEN on_hand_qty - later_qty
            ELSE most_qty
        END AS left_qty
    FROM stacked
),

explained AS (
    SELECT item, sum(left_qty) AS left_qty
    FROM held
    GROUP BY item
)

SELECT item, lot, expires_on, received_day, received_qty, left_qty
FROM held
UNION ALL
SELECT
    now.item,
    CAST(NULL AS STRING) AS lot,
    CAST(NULL AS DATE) AS expires_on,
    CAST(NULL AS DATE) AS received_day,
    CAST(NULL AS DOUBLE) AS received_qty,
    now.on_hand_qty - coalesce(explained.left_qty, 0e0) AS left_qty
FROM now
LEFT JOIN explained ON explained.item = now.item
