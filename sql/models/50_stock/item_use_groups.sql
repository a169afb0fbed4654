-- item_use_groups: for which patients each item was used.
--
-- Grain   one row an item, period, grouping column (species, weight_band, procedure_group, technique) and level
-- Reads   item_use, case_groups, report_periods
-- Units   qty in the item's base_unit; cases that had any of it; rows_unknown rows of unknown quantity
-- Source  none
--
-- Rules
--   A case counts once in each of its techniques. Use outside cases (changes of absorbent) stands nowhere here.

WITH

of_case AS (
    SELECT
        item,
        case_id,
        sum(qty) AS qty,
        CAST(sum(CASE WHEN qty IS NULL THEN 1 ELSE 0 END) AS BIGINT) AS rows_unknown
    FROM item_use
    WHERE case_id IS NOT NULL
    GROUP BY item, case_id
),

by_month AS (
    SELECT
        of_case.item,
        case_groups.month_no,
        case_groups.by_column,
        case_groups.level_text,
        sum(of_case.qty) AS qty,
        count(*) AS cases,
        CAST(sum(of_case.rows_unknown) AS BIGINT) AS rows_unknown
    FROM of_case
    INNER JOIN case_groups ON case_groups.case_id = of_case.case_id
    WHERE case_groups.by_column IN ('species', 'weight_band', 'procedure_group', 'technique')
    GROUP BY of_case.item, case_groups.month_no, case_groups.by_column, case_groups.level_text
)

SELECT
    by_month.item,
    report_periods.period,
    by_month.by_column,
    by_month.level_text,
    sum(by_month.qty) AS qty,
    CAST(sum(by_month.cases) AS BIGINT) AS cases,
    CAST(sum(by_month.rows_unknown) AS BIGINT) AS rows_unknown
FROM by_month
INNER JOIN report_periods
    ON by_month.month_no >= report_periods.from_month_no
    AND by_month.month_no <= report_periods.to_month_no
WHERE report_periods.kind <> 'month'
GROUP BY by_month.item, report_periods.period, by_month.by_column, by_month.level_text
