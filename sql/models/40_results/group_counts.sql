-- group_counts: how many cases each group has in each period.
--
-- Grain   one row a period, grouping column and level that has a case
-- Reads   case_groups, report_periods
-- Units   cases
-- Source  report_periods holds the months, the last 12 of them and all

SELECT
    report_periods.period,
    case_groups.by_column,
    case_groups.level_text,
    count(*) AS n
FROM case_groups
INNER JOIN report_periods
    ON case_groups.month_no >= report_periods.from_month_no
    AND case_groups.month_no <= report_periods.to_month_no
GROUP BY report_periods.period, case_groups.by_column, case_groups.level_text
