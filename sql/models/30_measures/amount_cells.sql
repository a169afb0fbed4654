-- amount_cells: how many cases of each cell have each amount.
--
-- Grain   one row a measure, cell and amount
-- Reads   case_amounts, case_cells
-- Units   amount in the unit of the measure; cases
-- Source  none
-- Built   by month

WITH

counted AS (
    SELECT
        case_amounts.measure,
        case_cells.cell_no,
        case_amounts.amount,
        count(*) AS cases
    FROM case_amounts
    INNER JOIN case_cells ON case_cells.case_id = case_amounts.case_id
    GROUP BY case_amounts.measure, case_cells.cell_no, case_amounts.amount
)

SELECT
    measure,
    CAST(floor(cell_no / 1000000e0) AS BIGINT) AS month_no,
    cell_no,
    amount,
    cases
FROM counted
