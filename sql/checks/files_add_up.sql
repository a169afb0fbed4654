-- files_add_up: is every line of every file accounted for?
--
-- Judges  every loaded file whose lines were counted
-- Reads   check_files
--
-- Rules
--   lines = read + set aside; read = new + unchanged + replaced + quarantined.

SELECT
    CASE
        WHEN lines <> rows_read + rows_set_aside
            OR rows_read <> rows_new + rows_unchanged + rows_replaced + rows_quarantined THEN 1
        ELSE 0
    END AS failed,
    file_id AS source_file,
    CASE
        WHEN failed = 1 THEN CAST(lines AS VARCHAR) || ' lines, ' || CAST(rows_read AS VARCHAR) || ' read'
    END AS found
FROM check_files
WHERE lines IS NOT NULL AND rows_read IS NOT NULL
