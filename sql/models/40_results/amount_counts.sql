-- amount_counts: how many cases have each amount, for every measure of which quartiles are shown.
--
-- Grain   one row a measure, group and amount
-- Reads   amount_cells, cell_groups
-- Units   amount in the unit of the measure; cases
-- Source  none
-- Built   by period
--
-- Rules
--   Quartiles are read off these counts: most amounts of an exposure are 0, so that counts are few.

SELECT
    amount_cells.measure,
    cell_groups.group_no,
    amount_cells.amount,
    CAST(sum(amount_cells.cases) AS BIGINT) AS cases
FROM amount_cells
INNER JOIN cell_groups ON cell_groups.cell_no = amount_cells.cell_no
GROUP BY amount_cells.measure, cell_groups.group_no, amount_cells.amount
