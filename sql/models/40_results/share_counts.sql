-- share_counts: cases that could be judged and cases that have it, for every share.
--
-- Grain   one row a measure and group with an assessable case
-- Reads   share_cells, cell_groups, share_years, all_groups
-- Units   cases
-- Source  none
-- Built   by period

WITH

parts AS (
    SELECT share_cells.measure, cell_groups.group_no, share_cells.assessable, share_cells.having_it
    FROM share_cells
    INNER JOIN cell_groups ON cell_groups.cell_no = share_cells.cell_no
    WHERE cell_groups.kind <> 'all'
    UNION ALL
    SELECT share_years.measure, all_groups.group_no, share_years.assessable, share_years.having_it
    FROM share_years
    INNER JOIN all_groups ON all_groups.year_group_no = share_years.year_group_no
)

SELECT
    measure,
    group_no,
    CAST(sum(assessable) AS BIGINT) AS assessable,
    CAST(sum(having_it) AS BIGINT) AS having_it
FROM parts
GROUP BY measure, group_no
