-- share_counts: cases that could be judged and cases that have it, for every share, by ASA class within group.
--
-- Grain   one row a measure, period, grouping column, level and ASA class with an assessable case
-- Reads   case_shares, case_groups, report_periods
-- Units   cases
-- Source  none

WITH

months AS (
    SELECT
        case_shares.measure,
        case_groups.month_no,
        case_groups.by_column,
        case_groups.level_text,
        case_groups.asa_class,
        count(*) AS assessable,
        CAST(sum(case_shares.has) AS BIGINT) AS having_it
    FROM case_shares
    INNER JOIN case_groups ON case_groups.case_id = case_shares.case_id
    WHERE case_shares.assessable = 1
    GROUP BY
        case_shares.measure, case_groups.month_no, case_groups.by_column, case_groups.level_text, case_groups.asa_class
)

SELECT
    months.measure,
    report_periods.period,
    months.by_column,
    months.level_text,
    months.asa_class,
    CAST(sum(months.assessable) AS BIGINT) AS assessable,
    CAST(sum(months.having_it) AS BIGINT) AS having_it
FROM months
INNER JOIN report_periods
    ON months.month_no >= report_periods.from_month_no
    AND months.month_no <= report_periods.to_month_no
GROUP BY months.measure, report_periods.period, months.by_column, months.level_text, months.asa_class
