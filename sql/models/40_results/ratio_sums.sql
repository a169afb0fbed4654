-- ratio_sums: sums over cases, for every measure that is a ratio of them.
--
-- Grain   one row a measure and group with an assessable case
-- Reads   case_ratios, case_cells, cell_groups
-- Units   minutes
-- Source  none
-- Built   by period

WITH

cells AS (
    SELECT
        case_ratios.measure,
        case_cells.cell_no,
        count(*) AS assessable,
        sum(case_ratios.top) AS top_sum,
        sum(case_ratios.bottom) AS bottom_sum
    FROM case_ratios
    INNER JOIN case_cells ON case_cells.case_id = case_ratios.case_id
    GROUP BY case_ratios.measure, case_cells.cell_no
)

SELECT
    cells.measure,
    cell_groups.group_no,
    CAST(sum(cells.assessable) AS BIGINT) AS assessable,
    sum(cells.top_sum) AS top_sum,
    sum(cells.bottom_sum) AS bottom_sum
FROM cells
INNER JOIN cell_groups ON cell_groups.cell_no = cells.cell_no
GROUP BY cells.measure, cell_groups.group_no
