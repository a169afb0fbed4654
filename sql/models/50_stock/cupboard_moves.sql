-- cupboard_moves: movements of controlled items, each in its day and the part of the day that a count closes.
--
-- Grain   one row a movement of a controlled item, opened packs apart
-- Reads   stock_moves, stock_positions, stock_items
-- Units   ml, on_hand_ml mL; part_no 0 up to the day's first count, 1 after it, ...
-- Source  none

WITH

moves AS (
    SELECT
        stock_moves.item,
        stock_moves.move_no,
        stock_moves.moved_day,
        stock_moves.month_no,
        stock_moves.movement,
        CASE WHEN stock_moves.base_unit = 'mL' THEN stock_moves.qty END AS ml,
        CASE WHEN stock_moves.base_unit = 'mL' THEN stock_positions.on_hand_qty END AS on_hand_ml,
        stock_items.pack_size,
        stock_moves.person,
        stock_moves.source_file,
        stock_moves.source_row
    FROM stock_moves
    INNER JOIN stock_items ON stock_items.item = stock_moves.item
    INNER JOIN stock_positions
        ON stock_positions.item = stock_moves.item
        AND stock_positions.move_no = stock_moves.move_no
    WHERE stock_items.control <> '' AND stock_moves.movement <> 'opened'
)

SELECT
    item,
    move_no,
    moved_day,
    CAST(
        coalesce(
            sum(CASE WHEN movement = 'counted' AND ml IS NOT NULL THEN 1 ELSE 0 END) OVER (
                PARTITION BY item, moved_day ORDER BY move_no ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
            ),
            0
        ) AS BIGINT
    ) AS part_no,
    month_no,
    movement,
    ml,
    on_hand_ml,
    pack_size,
    person,
    source_file,
    source_row
FROM moves
