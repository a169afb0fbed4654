-- case_cells: the cells each case counts in.
--
-- Grain   one row a case with a start, grouping column and level
-- Reads   case_groups, group_cells
-- Units   none
-- Source  none
-- Built   by month

SELECT
    case_groups.case_id,
    case_groups.month_no,
    group_cells.cell_no
FROM case_groups
INNER JOIN group_cells
    ON group_cells.month_no = case_groups.month_no
    AND group_cells.by_column = case_groups.by_column
    AND group_cells.level_text = case_groups.level_text
    AND group_cells.asa_class = case_groups.asa_class
