-- stg_stock: what came into the store, left it, or was counted there.
--
-- Grain   one row a movement
-- Reads   stock, set_aside_rows
-- Units   moved_s seconds of UTC since 1970; quantity in quantity_unit; month_no year x 12 + month - 1, local
-- Source  none

SELECT
    stock.item,
    stock.at_s AS moved_s,
    CAST(stock.at AS DATE) AS moved_day,
    year(stock.at) * 12 + month(stock.at) - 1 AS month_no,
    stock.movement,
    stock.quantity,
    stock.unit AS quantity_unit,
    stock.lot,
    stock.expires_on,
    stock.person,
    stock.source_file,
    stock.source_row
FROM stock
LEFT JOIN set_aside_rows
    ON set_aside_rows.table_name = 'stock'
    AND set_aside_rows.source_file = stock.source_file
    AND set_aside_rows.source_row = stock.source_row
WHERE set_aside_rows.rule_id IS NULL
