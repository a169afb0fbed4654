-- stock_positions: what stood on the shelf after each movement.
--
-- Grain   one row a movement
-- Reads   stock_moves
-- Units   expected_qty, on_hand_qty, difference_qty in base_unit
-- Source  none
--
-- Rules
--   A count states what is there; from it on, movements add and take away. Before the first count, and from a
--   movement of unknown quantity to the next count, what is there is unknown. difference_qty is counted less
--   expected, on counts alone.

WITH

runs AS (
    SELECT
        item,
        move_no,
        moved_s,
        moved_day,
        month_no,
        movement,
        base_unit,
        qty,
        change_qty,
        sum(CASE WHEN movement = 'counted' AND qty IS NOT NULL THEN 1 ELSE 0 END) OVER (
            PARTITION BY item ORDER BY move_no ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS counts_so_far
    FROM stock_moves
),

summed AS (
    SELECT
        item,
        move_no,
        moved_s,
        moved_day,
        month_no,
        movement,
        base_unit,
        qty,
        counts_so_far,
        sum(CASE WHEN movement = 'counted' THEN qty ELSE coalesce(change_qty, 0e0) END) OVER (
            PARTITION BY item, counts_so_far ORDER BY move_no ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS level_qty,
        sum(CASE WHEN movement <> 'counted' AND change_qty IS NULL THEN 1 ELSE 0 END) OVER (
            PARTITION BY item, counts_so_far ORDER BY move_no ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS unknown_so_far
    FROM runs
),

levels AS (
    SELECT
        item,
        move_no,
        moved_s,
        moved_day,
        month_no,
        movement,
        base_unit,
        qty,
        CASE WHEN counts_so_far > 0 AND unknown_so_far = 0 THEN level_qty END AS on_hand_qty
    FROM summed
),

stepped AS (
    SELECT
        item,
        move_no,
        moved_s,
        moved_day,
        month_no,
        movement,
        base_unit,
        qty,
        on_hand_qty,
        lag(on_hand_qty) OVER (PARTITION BY item ORDER BY move_no) AS before_qty
    FROM levels
)

SELECT
    item,
    move_no,
    moved_s,
    moved_day,
    month_no,
    movement,
    base_unit,
    qty,
    CASE WHEN movement = 'counted' THEN before_qty END AS expected_qty,
    CASE WHEN movement = 'counted' THEN qty - before_qty END AS difference_qty,
    on_hand_qty
FROM stepped
