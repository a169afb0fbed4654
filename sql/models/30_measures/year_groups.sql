-- year_groups: the groups of each calendar year, by number; counts of all years together are sums of theirs.
--
-- Grain   one row a calendar year, grouping column and level with a case
-- Reads   group_cells
-- Units   year_group_no year_no x 1,000,000 + number within the year
-- Source  none
-- Built   by year

WITH

present AS (
    SELECT DISTINCT CAST(floor(month_no / 12e0) AS BIGINT) AS year_no, by_column, level_text
    FROM group_cells
)

SELECT
    year_no,
    by_column,
    level_text,
    year_no * 1000000 + row_number() OVER (PARTITION BY year_no ORDER BY by_column, level_text) AS year_group_no
FROM present
