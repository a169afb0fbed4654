-- share_counts: cases that could be judged and cases that have it, for every share.
--
-- Grain   one row a measure and group with an assessable case
-- Reads   share_cells, cell_groups
-- Units   cases
-- Source  none
-- Built   by period

SELECT
    share_cells.measure,
    cell_groups.group_no,
    CAST(sum(share_cells.assessable) AS BIGINT) AS assessable,
    CAST(sum(share_cells.having_it) AS BIGINT) AS having_it
FROM share_cells
INNER JOIN cell_groups ON cell_groups.cell_no = share_cells.cell_no
GROUP BY share_cells.measure, cell_groups.group_no
