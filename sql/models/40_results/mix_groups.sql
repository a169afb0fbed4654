-- mix_groups: how many cases the groups have in which observed is held against expected.
--
-- Grain   one row a period, grouping column and level with a case
-- Reads   group_cells, report_periods
-- Units   cases
-- Source  none

SELECT
    report_periods.period,
    group_cells.by_column,
    group_cells.level_text,
    CAST(sum(group_cells.cases) AS BIGINT) AS n
FROM group_cells
INNER JOIN report_periods
    ON group_cells.month_no >= report_periods.from_month_no
    AND group_cells.month_no <= report_periods.to_month_no
WHERE group_cells.by_column IN ('all', 'site', 'procedure_group')
GROUP BY report_periods.period, group_cells.by_column, group_cells.level_text
