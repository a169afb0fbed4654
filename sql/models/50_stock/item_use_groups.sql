-- item_use_groups: for which patients each item was used.
--
-- Grain   one row an item, period, grouping column (species, weight_band, procedure_group, technique) and level
-- Reads   item_use, case_groups, report_periods
-- Units   qty in the item's base_unit; cases that had any of it; rows_unknown rows of unknown quantity
-- Source  none
--
-- Rules
--   A case counts once in each of its techniques. Use outside cases (changes of absorbent) stands nowhere here.

SELECT
    item_use.item,
    report_periods.period,
    case_groups.by_column,
    case_groups.level_text,
    sum(item_use.qty) AS qty,
    count(DISTINCT item_use.case_id) AS cases,
    count(*) - count(item_use.qty) AS rows_unknown
FROM item_use
INNER JOIN case_groups ON case_groups.case_id = item_use.case_id
INNER JOIN report_periods
    ON case_groups.month_no >= report_periods.from_month_no
    AND case_groups.month_no <= report_periods.to_month_no
WHERE case_groups.by_column IN ('species', 'weight_band', 'procedure_group', 'technique')
    AND report_periods.kind <> 'month'
GROUP BY item_use.item, report_periods.period, case_groups.by_column, case_groups.level_text
