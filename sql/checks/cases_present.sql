-- cases_present: is there any case at all?
--
-- Judges  the loaded records as a whole
-- Reads   cases

SELECT
    CASE WHEN count(*) = 0 THEN 1 ELSE 0 END AS failed,
    CAST(NULL AS VARCHAR) AS case_id,
    CAST(NULL AS BIGINT) AS source_file,
    CAST(NULL AS BIGINT) AS source_row,
    CAST(NULL AS VARCHAR) AS person,
    'no row in cases' AS found
FROM cases
