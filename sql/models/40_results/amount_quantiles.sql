-- amount_quantiles: quartiles over cases, for every measure of which a median is shown.
--
-- Grain   one row a measure, period, grouping column and level with an assessable case
-- Reads   case_amounts, case_groups, report_periods
-- Units   those of the measure
-- Source  none

SELECT
    case_amounts.measure,
    report_periods.period,
    case_groups.by_column,
    case_groups.level_text,
    count(*) AS assessable,
    percentile_cont(0.25) WITHIN GROUP (ORDER BY case_amounts.amount) AS quartile_1,
    percentile_cont(0.5) WITHIN GROUP (ORDER BY case_amounts.amount) AS median,
    percentile_cont(0.75) WITHIN GROUP (ORDER BY case_amounts.amount) AS quartile_3
FROM case_amounts
INNER JOIN case_groups ON case_groups.case_id = case_amounts.case_id
INNER JOIN report_periods
    ON case_groups.month_no >= report_periods.from_month_no
    AND case_groups.month_no <= report_periods.to_month_no
GROUP BY case_amounts.measure, report_periods.period, case_groups.by_column, case_groups.level_text
