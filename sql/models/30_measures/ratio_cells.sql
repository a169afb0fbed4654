-- ratio_cells: sums over the cases of each cell, for every measure that is a ratio of them.
--
-- Grain   one row a measure and cell with an assessable case
-- Reads   case_ratios, case_cells
-- Units   minutes; month_no year x 12 + month - 1
-- Source  none
-- Built   by month

SELECT
    case_ratios.measure,
    case_cells.month_no,
    case_cells.cell_no,
    count(*) AS assessable,
    sum(case_ratios.top) AS top_sum,
    sum(case_ratios.bottom) AS bottom_sum
FROM case_ratios
INNER JOIN case_cells ON case_cells.case_id = case_ratios.case_id
GROUP BY case_ratios.measure, case_cells.month_no, case_cells.cell_no
