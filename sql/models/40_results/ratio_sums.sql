-- ratio_sums: sums over cases, for every measure that is a ratio of them.
--
-- Grain   one row a measure and group with an assessable case
-- Reads   ratio_cells, cell_groups
-- Units   minutes
-- Source  none
-- Built   by period

SELECT
    ratio_cells.measure,
    cell_groups.group_no,
    CAST(sum(ratio_cells.assessable) AS BIGINT) AS assessable,
    sum(ratio_cells.top_sum) AS top_sum,
    sum(ratio_cells.bottom_sum) AS bottom_sum
FROM ratio_cells
INNER JOIN cell_groups ON cell_groups.cell_no = ratio_cells.cell_no
GROUP BY ratio_cells.measure, cell_groups.group_no
