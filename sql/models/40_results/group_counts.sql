-- group_counts: how many cases each group has in each period, and its number.
--
-- Grain   one row a period, grouping column and level that has a case; all cases of every period
-- Reads   group_cells, report_periods
-- Units   cases
-- Source  report_periods holds the months, the last 12 of them and all
-- Built   by period

WITH

counted AS (
    SELECT
        report_periods.ordinal,
        report_periods.period,
        group_cells.by_column,
        group_cells.level_text,
        CAST(sum(group_cells.cases) AS BIGINT) AS n
    FROM group_cells
    INNER JOIN report_periods
        ON group_cells.month_no >= report_periods.from_month_no
        AND group_cells.month_no <= report_periods.to_month_no
    GROUP BY report_periods.ordinal, report_periods.period, group_cells.by_column, group_cells.level_text
),

present AS (
    SELECT ordinal, period, by_column, level_text, n
    FROM counted
    UNION ALL
    SELECT report_periods.ordinal, report_periods.period, 'all' AS by_column, 'all' AS level_text, 0 AS n
    FROM report_periods
    LEFT JOIN counted ON counted.period = report_periods.period AND counted.by_column = 'all'
    WHERE counted.period IS NULL
)

SELECT
    row_number() OVER (ORDER BY ordinal, by_column, level_text) AS group_no,
    period,
    by_column,
    level_text,
    n
FROM present
