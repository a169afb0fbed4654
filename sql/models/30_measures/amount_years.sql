-- amount_years: how many cases of each calendar year have each amount.
--
-- Grain   one row a measure, group of a year and amount
-- Reads   amount_cells, year_cells
-- Units   amount in the unit of the measure; cases
-- Source  none
-- Built   by year

SELECT
    amount_cells.measure,
    year_cells.year_no,
    year_cells.year_group_no,
    amount_cells.amount,
    CAST(sum(amount_cells.cases) AS BIGINT) AS cases
FROM amount_cells
INNER JOIN year_cells ON year_cells.cell_no = amount_cells.cell_no
GROUP BY amount_cells.measure, year_cells.year_no, year_cells.year_group_no, amount_cells.amount
