-- year_cells: the group of its calendar year that each cell is part of.
--
-- Grain   one row a cell
-- Reads   group_cells, year_groups
-- Units   none
-- Source  none
-- Built   as a view

SELECT
    group_cells.cell_no,
    year_groups.year_no,
    year_groups.year_group_no
FROM group_cells
INNER JOIN year_groups
    ON year_groups.year_no = CAST(floor(group_cells.month_no / 12e0) AS BIGINT)
    AND year_groups.by_column = group_cells.by_column
    AND year_groups.level_text = group_cells.level_text
