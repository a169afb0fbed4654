-- ratio_sums: sums over cases, for every measure that is a ratio of them.
--
-- Grain   one row a measure, period, grouping column and level with an assessable case
-- Reads   case_ratios, case_groups, report_periods
-- Units   minutes
-- Source  none

SELECT
    case_ratios.measure,
    report_periods.period,
    case_groups.by_column,
    case_groups.level_text,
    count(*) AS assessable,
    sum(case_ratios.top) AS top_sum,
    sum(case_ratios.bottom) AS bottom_sum
FROM case_ratios
INNER JOIN case_groups ON case_groups.case_id = case_ratios.case_id
INNER JOIN report_periods
    ON case_groups.month_no >= report_periods.from_month_no
    AND case_groups.month_no <= report_periods.to_month_no
GROUP BY case_ratios.measure, report_periods.period, case_groups.by_column, case_groups.level_text
