-- files_mended: does a file have rows that wait to be mended?
--
-- Judges  every loaded file
-- Reads   check_files, check_quarantine

SELECT
    CASE WHEN waiting.rows > 0 THEN 1 ELSE 0 END AS failed,
    check_files.file_id AS source_file,
    waiting.first_row AS source_row,
    CASE WHEN failed = 1 THEN CAST(waiting.rows AS VARCHAR) || ' rows wait in to_fix' END AS found
FROM check_files
LEFT JOIN (
    SELECT file_id, count(DISTINCT row) AS rows, min(row) AS first_row
    FROM check_quarantine
    GROUP BY file_id
) AS waiting
    ON waiting.file_id = check_files.file_id
