-- total_sums: totals of each period.
--
-- Grain   one row a measure, period, grouping column and level with a row
-- Reads   total_rows, report_periods
-- Units   those of the measure
-- Source  none
--
-- Rules
--   Rows outside the months with cases, or in no known month, stand only in the period of all.

SELECT
    total_rows.measure,
    report_periods.period,
    total_rows.by_column,
    total_rows.level_text,
    count(*) AS n,
    count(total_rows.amount) AS known,
    sum(total_rows.amount) AS amount
FROM total_rows
INNER JOIN report_periods
    ON report_periods.kind = 'all'
    OR (
        total_rows.month_no >= report_periods.from_month_no
        AND total_rows.month_no <= report_periods.to_month_no
    )
GROUP BY total_rows.measure, report_periods.period, total_rows.by_column, total_rows.level_text
