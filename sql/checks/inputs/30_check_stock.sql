-- check_stock: every row of stock with the day its file was loaded.
--
-- Kept    view
-- Grain   one row of stock
-- Reads   stock, check_files
-- Units   loaded_s seconds of UTC since 1970

SELECT
    stock.*,
    check_files.loaded_s
FROM stock
LEFT JOIN check_files ON check_files.file_id = stock.source_file
