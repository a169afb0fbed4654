-- total_months: what cases add to the totals of each month.
--
-- Grain   one row a measure, month, grouping column and level with a row of a case
-- Reads   case_totals
-- Units   those of the measure; n, known rows; month_no year x 12 + month - 1
-- Source  none
-- Built   by month

SELECT
    measure,
    month_no,
    by_column,
    level_text,
    count(*) AS n,
    count(amount) AS known,
    sum(amount) AS amount
FROM case_totals
WHERE month_no IS NOT NULL
GROUP BY measure, month_no, by_column, level_text
