-- cell_groups: the groups a cell is part of: its month's, those of the 12 months and of all.
--
-- Grain   one row a cell and period
-- Reads   group_cells, group_counts, report_periods
-- Units   none
-- Source  none
-- Built   by period

SELECT
    group_cells.cell_no,
    group_cells.by_column,
    group_cells.asa_class,
    report_periods.kind,
    group_counts.group_no
FROM group_cells
INNER JOIN report_periods
    ON group_cells.month_no >= report_periods.from_month_no
    AND group_cells.month_no <= report_periods.to_month_no
INNER JOIN group_counts
    ON group_counts.period = report_periods.period
    AND group_counts.by_column = group_cells.by_column
    AND group_counts.level_text = group_cells.level_text
