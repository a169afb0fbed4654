-- cupboard_balances: the controlled-drug cupboard day by day against its counts.
--
-- Grain   one row a controlled item and local day on which it was moved or counted; a second where something
--         moved after the day's last count (after_count = 1)
-- Reads   stock_moves, stock_positions, stock_items, seed_windows
-- Units   *_ml mL
-- Source  the tolerance is a row of seed_windows
--
-- Rules
--   opening + received + returned - supplied - discarded - expired = counted, off beyond the tolerance.
--   difference_ml is the left side less the counted: above 0 something is missing. Opening is what the line
--   before left: its count, else what it expected. The first count has nothing to be judged by. From a movement
--   of unknown mL to the next count, a line is unknown. A line without a count is not judged.

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
        stock_moves.person,
        stock_moves.source_file,
        stock_moves.source_row
    FROM stock_moves
    INNER JOIN stock_items ON stock_items.item = stock_moves.item
    INNER JOIN stock_positions
        ON stock_positions.item = stock_moves.item
        AND stock_positions.move_no = stock_moves.move_no
    WHERE stock_items.control <> '' AND stock_moves.movement <> 'opened'
),

last_counts AS (
    SELECT item, moved_day, max(move_no) AS count_no
    FROM moves
    WHERE movement = 'counted' AND ml IS NOT NULL
    GROUP BY item, moved_day
),

parts AS (
    SELECT
        moves.item,
        moves.move_no,
        moves.moved_day,
        moves.month_no,
        moves.movement,
        moves.ml,
        moves.on_hand_ml,
        moves.person,
        moves.source_file,
        moves.source_row,
        CASE WHEN moves.move_no > last_counts.count_no THEN 1 ELSE 0 END AS after_count,
        CASE WHEN moves.move_no = last_counts.count_no THEN 1 ELSE 0 END AS is_count,
        row_number() OVER (
            PARTITION BY moves.item,
                moves.moved_day,
                CASE WHEN moves.move_no > last_counts.count_no THEN 1 ELSE 0 END
            ORDER BY moves.move_no DESC
        ) AS from_last
    FROM moves
    LEFT JOIN last_counts ON last_counts.item = moves.item AND last_counts.moved_day = moves.moved_day
),

lines AS (
    SELECT
        item,
        moved_day,
        after_count,
        min(month_no) AS month_no,
        sum(CASE WHEN movement = 'received' THEN ml ELSE 0e0 END) AS received_ml,
        sum(CASE WHEN movement = 'returned' THEN ml ELSE 0e0 END) AS returned_ml,
        sum(CASE WHEN movement = 'supplied' THEN ml ELSE 0e0 END) AS supplied_ml,
        sum(CASE WHEN movement = 'discarded' THEN ml ELSE 0e0 END) AS discarded_ml,
        sum(CASE WHEN movement = 'expired' THEN ml ELSE 0e0 END) AS expired_ml,
        CAST(sum(CASE WHEN movement <> 'counted' AND ml IS NULL THEN 1 ELSE 0 END) AS BIGINT) AS unknown_moves,
        max(CASE WHEN is_count = 1 THEN ml END) AS counted_ml,
        max(CASE WHEN is_count = 1 THEN person END) AS counted_by,
        max(CASE WHEN from_last = 1 THEN on_hand_ml END) AS closing_ml,
        max(CASE WHEN from_last = 1 THEN source_file END) AS source_file,
        max(CASE WHEN from_last = 1 THEN source_row END) AS source_row
    FROM parts
    GROUP BY item, moved_day, after_count
),

opened AS (
    SELECT
        item,
        moved_day,
        after_count,
        month_no,
        lag(closing_ml) OVER (PARTITION BY item ORDER BY moved_day, after_count) AS opening_ml,
        coalesce(
            sum(CASE WHEN counted_ml IS NULL THEN 0 ELSE 1 END) OVER (
                PARTITION BY item ORDER BY moved_day, after_count ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
            ),
            0
        ) AS counts_before,
        received_ml,
        returned_ml,
        supplied_ml,
        discarded_ml,
        expired_ml,
        unknown_moves,
        counted_ml,
        counted_by,
        source_file,
        source_row
    FROM lines
),

expected AS (
    SELECT
        item,
        moved_day,
        after_count,
        month_no,
        opening_ml,
        counts_before,
        received_ml,
        returned_ml,
        supplied_ml,
        discarded_ml,
        expired_ml,
        unknown_moves,
        CASE
            WHEN unknown_moves = 0
                THEN opening_ml + received_ml + returned_ml - supplied_ml - discarded_ml - expired_ml
        END AS expected_ml,
        counted_ml,
        counted_by,
        source_file,
        source_row
    FROM opened
),

tolerance AS (
    SELECT max(CASE WHEN name = 'drug_book_tolerance_ml' THEN val END) AS tolerance_ml
    FROM seed_windows
)

SELECT
    expected.item,
    expected.moved_day,
    expected.after_count,
    expected.month_no,
    expected.opening_ml,
    expected.received_ml,
    expected.returned_ml,
    expected.supplied_ml,
    expected.discarded_ml,
    expected.expired_ml,
    expected.expected_ml,
    expected.counted_ml,
    expected.counted_by,
    expected.expected_ml - expected.counted_ml AS difference_ml,
    CASE
        WHEN expected.unknown_moves > 0 THEN 'unknown'
        WHEN expected.counted_ml IS NULL THEN 'not counted'
        WHEN expected.counts_before = 0 THEN 'first count'
        WHEN expected.expected_ml IS NULL THEN 'unknown'
        WHEN abs(expected.expected_ml - expected.counted_ml) > tolerance.tolerance_ml + 1e-9 THEN 'off'
        ELSE 'balanced'
    END AS state,
    expected.source_file,
    expected.source_row
FROM expected
CROSS JOIN tolerance
