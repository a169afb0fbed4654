-- amount_quantiles: quartiles over cases, for every measure of which a median is shown.
--
-- Grain   one row a measure and group with an assessable case
-- Reads   case_amounts, case_cells, cell_groups
-- Units   those of the measure
-- Source  none
-- Built   by period

SELECT
    case_amounts.measure,
    cell_groups.group_no,
    count(*) AS assessable,
    percentile_cont(0.25) WITHIN GROUP (ORDER BY case_amounts.amount) AS quartile_1,
    percentile_cont(0.5) WITHIN GROUP (ORDER BY case_amounts.amount) AS median,
    percentile_cont(0.75) WITHIN GROUP (ORDER BY case_amounts.amount) AS quartile_3
FROM case_amounts
INNER JOIN case_cells ON case_cells.case_id = case_amounts.case_id
INNER JOIN cell_groups ON cell_groups.cell_no = case_cells.cell_no
GROUP BY case_amounts.measure, cell_groups.group_no
