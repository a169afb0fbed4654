-- check_stock: every movement with the day its file was loaded and what the settings know of its item.
--
-- Kept    table
-- Grain   one row of stock
-- Reads   stock, check_files, seed_items
-- Units   loaded_s seconds of UTC since 1970; item_known NULL where the settings name no items at all

SELECT
    stock.*,
    CASE
        WHEN stock.item IS NULL OR (SELECT count(*) FROM seed_items) = 0 THEN NULL
        WHEN seed_items.item IS NULL THEN 0
        ELSE 1
    END AS item_known,
    seed_items.control,
    check_files.loaded_s
FROM stock
LEFT JOIN seed_items ON seed_items.item = stock.item
LEFT JOIN check_files ON check_files.file_id = stock.source_file
