-- group_cells: the smallest groups that are counted, by number, so that counts go by numbers and not by words.
--
-- Grain   one row a month, grouping column, level and ASA class with a case
-- Reads   case_groups
-- Units   month_no year x 12 + month - 1; cases; cell_no month_no x 1,000,000 + number within the month
-- Source  none
-- Built   by month

SELECT
    month_no,
    by_column,
    level_text,
    asa_class,
    CAST(month_no AS BIGINT) * 1000000
        + row_number() OVER (PARTITION BY month_no ORDER BY by_column, level_text, asa_class) AS cell_no,
    count(*) AS cases
FROM case_groups
GROUP BY month_no, by_column, level_text, asa_class
