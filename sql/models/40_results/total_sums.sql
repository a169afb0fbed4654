-- total_sums: totals of each period.
--
-- Grain   one row a measure, period, grouping column and level with a row
-- Reads   total_months, case_totals, other_totals, report_periods
-- Units   those of the measure
-- Source  none
--
-- Rules
--   Rows outside the months with cases, or in no known month, stand only in the period of all.

WITH

parts AS (
    SELECT measure, month_no, by_column, level_text, n, known, amount
    FROM total_months
    UNION ALL
    SELECT measure, month_no, by_column, level_text, count(*) AS n, count(amount) AS known, sum(amount) AS amount
    FROM case_totals
    WHERE month_no IS NULL
    GROUP BY measure, month_no, by_column, level_text
    UNION ALL
    SELECT measure, month_no, by_column, level_text, count(*) AS n, count(amount) AS known, sum(amount) AS amount
    FROM other_totals
    GROUP BY measure, month_no, by_column, level_text
)

SELECT
    parts.measure,
    report_periods.period,
    parts.by_column,
    parts.level_text,
    CAST(sum(parts.n) AS BIGINT) AS n,
    CAST(sum(parts.known) AS BIGINT) AS known,
    sum(parts.amount) AS amount
FROM parts
INNER JOIN report_periods
    ON report_periods.kind = 'all'
    OR (
        parts.month_no >= report_periods.from_month_no
        AND parts.month_no <= report_periods.to_month_no
    )
GROUP BY parts.measure, report_periods.period, parts.by_column, parts.level_text
