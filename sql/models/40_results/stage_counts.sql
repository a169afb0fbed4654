-- stage_counts: how many cases reached each stage, or were last seen, at each time.
--
-- Grain   one row a measure, period, grouping column, level, time and whether it was seen
-- Reads   case_stages, case_groups, report_periods
-- Units   minutes; cases
-- Source  none

SELECT
    case_stages.measure,
    report_periods.period,
    case_groups.by_column,
    case_groups.level_text,
    case_stages.minutes,
    case_stages.seen,
    count(*) AS cases
FROM case_stages
INNER JOIN case_groups ON case_groups.case_id = case_stages.case_id
INNER JOIN report_periods
    ON case_groups.month_no >= report_periods.from_month_no
    AND case_groups.month_no <= report_periods.to_month_no
GROUP BY
    case_stages.measure, report_periods.period, case_groups.by_column, case_groups.level_text,
    case_stages.minutes, case_stages.seen
