-- stock_moves: what moved on or off the shelf, in the item's base unit, in order.
--
-- Grain   one row a movement
-- Reads   stg_stock, stock_items, seed_stock_units
-- Units   qty in base_unit; moved_s seconds of UTC since 1970; month_no year x 12 + month - 1, local
-- Source  factors of units are rows of seed_stock_units
--
-- Rules
--   A pack is pack_size base units; mg become mL by the item's concentration. A unit that is missing, unknown
--   or of another kind leaves qty unknown. change_qty is what the movement adds: received and returned more,
--   supplied, discarded and expired less, opened nothing. At one moment counts come last.

WITH

converted AS (
    SELECT
        stg_stock.item,
        stg_stock.moved_s,
        stg_stock.moved_day,
        stg_stock.month_no,
        stg_stock.movement,
        stg_stock.quantity,
        stg_stock.quantity_unit,
        stock_items.base_unit,
        stg_stock.lot,
        stg_stock.expires_on,
        stg_stock.person,
        stg_stock.source_file,
        stg_stock.source_row,
        CASE
            WHEN seed_stock_units.family = stock_items.base_unit THEN stg_stock.quantity * seed_stock_units.factor
            WHEN seed_stock_units.family = 'pack' THEN stg_stock.quantity * stock_items.pack_size
            WHEN seed_stock_units.family = 'mg' AND stock_items.base_unit = 'mL'
                THEN stg_stock.quantity * seed_stock_units.factor / nullif(stock_items.concentration_mg_ml, 0e0)
            WHEN seed_stock_units.family = 'mL' AND stock_items.base_unit = 'L'
                THEN stg_stock.quantity / 1000e0
            WHEN seed_stock_units.family = 'L' AND stock_items.base_unit = 'mL'
                THEN stg_stock.quantity * 1000e0
            WHEN seed_stock_units.family IS NULL AND stg_stock.quantity_unit = stock_items.base_unit
                THEN stg_stock.quantity
        END AS qty
    FROM stg_stock
    INNER JOIN stock_items ON stock_items.item = stg_stock.item
    LEFT JOIN seed_stock_units ON seed_stock_units.spelling = lower(stg_stock.quantity_unit)
)

SELECT
    item,
    row_number() OVER (
        PARTITION BY item
        ORDER BY moved_s, CASE WHEN movement = 'counted' THEN 1 ELSE 0 END, source_file, source_row
    ) AS move_no,
    moved_s,
    moved_day,
    month_no,
    movement,
    quantity,
    quantity_unit,
    base_unit,
    qty,
    CASE
        WHEN movement IN ('received', 'returned') THEN qty
        WHEN movement IN ('supplied', 'discarded', 'expired') THEN -qty
        WHEN movement = 'opened' THEN 0e0
    END AS change_qty,
    lot,
    expires_on,
    person,
    source_file,
    source_row
FROM converted
