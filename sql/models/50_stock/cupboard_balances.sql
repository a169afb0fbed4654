-- cupboard_balances: the controlled-drug cupboard day by day against its counts.
--
-- Grain   one row a controlled item, local day and part of it: a count closes a part (part_no)
-- Reads   cupboard_moves, seed_windows
-- Units   *_ml mL
-- Source  the tolerance is a row of seed_windows
--
-- Rules
--   opening + received + returned - supplied - discarded - expired = counted, off beyond the tolerance.
--   difference_ml is the left side less the counted: above 0 something is missing. Opening is what the line
--   before left: its count, else what it expected. The first count has nothing to be judged by. From a movement
--   of unknown mL to the next count, a line is unknown. A line without a count is not judged.

WITH

ranked AS (
    SELECT
        item,
        moved_day,
        part_no,
        month_no,
        movement,
        ml,
        on_hand_ml,
        person,
        source_file,
        source_row,
        row_number() OVER (PARTITION BY item, moved_day, part_no ORDER BY move_no DESC) AS from_last
    FROM cupboard_moves
),

lines AS (
    SELECT
        item,
        moved_day,
        part_no,
        min(month_no) AS month_no,
        sum(CASE WHEN movement = 'received' THEN ml ELSE 0e0 END) AS received_ml,
        sum(CASE WHEN movement = 'returned' THEN ml ELSE 0e0 END) AS returned_ml,
        sum(CASE WHEN movement = 'supplied' THEN ml ELSE 0e0 END) AS supplied_ml,
        sum(CASE WHEN movement = 'discarded' THEN ml ELSE 0e0 END) AS discarded_ml,
        sum(CASE WHEN movement = 'expired' THEN ml ELSE 0e0 END) AS expired_ml,
        CAST(sum(CASE WHEN movement <> 'counted' AND ml IS NULL THEN 1 ELSE 0 END) AS BIGINT) AS unknown_moves,
        max(CASE WHEN movement = 'counted' THEN ml END) AS counted_ml,
        max(CASE WHEN movement = 'counted' AND ml IS NOT NULL THEN person END) AS counted_by,
        max(CASE WHEN from_last = 1 THEN on_hand_ml END) AS closing_ml,
        max(CASE WHEN from_last = 1 THEN source_file END) AS source_file,
        max(CASE WHEN from_last = 1 THEN source_row END) AS source_row
    FROM ranked
    GROUP BY item, moved_day, part_no
),

opened AS (
    SELECT
        item,
        moved_day,
        part_no,
        month_no,
        lag(closing_ml) OVER (PARTITION BY item ORDER BY moved_day, part_no) AS opening_ml,
        coalesce(
            sum(CASE WHEN counted_ml IS NULL THEN 0 ELSE 1 END) OVER (
                PARTITION BY item ORDER BY moved_day, part_no ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
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
        part_no,
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
    expected.part_no,
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
