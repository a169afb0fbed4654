-- amount_cells: how many cases of each cell have each amount.
--
-- Grain   one row a measure, cell and amount
-- Reads   case_amounts, case_cells, share_cells, seed_limits
-- Units   amount in the unit of the measure; cases
-- Source  none
-- Built   by month
--
-- Rules
--   Most amounts of an exposure are 0: those are the cell's assessable cases without the others. A length of
--   anesthesia is never 0.

WITH

exposures AS (
    SELECT DISTINCT measure
    FROM seed_limits
),

not_zero AS (
    SELECT
        case_amounts.measure,
        case_cells.cell_no,
        case_amounts.amount,
        count(*) AS cases
    FROM case_amounts
    INNER JOIN case_cells ON case_cells.case_id = case_amounts.case_id
    WHERE case_amounts.amount <> 0e0
    GROUP BY case_amounts.measure, case_cells.cell_no, case_amounts.amount
),

not_zero_cases AS (
    SELECT measure, cell_no, CAST(sum(cases) AS BIGINT) AS cases
    FROM not_zero
    GROUP BY measure, cell_no
),

assessed AS (
    SELECT concat(share_cells.measure, '_minutes') AS measure, share_cells.cell_no, share_cells.assessable
    FROM share_cells
    INNER JOIN exposures ON exposures.measure = share_cells.measure
    UNION ALL
    SELECT concat(share_cells.measure, '_area') AS measure, share_cells.cell_no, share_cells.assessable
    FROM share_cells
    INNER JOIN exposures ON exposures.measure = share_cells.measure
),

counted AS (
    SELECT measure, cell_no, amount, cases
    FROM not_zero
    UNION ALL
    SELECT
        assessed.measure,
        assessed.cell_no,
        0e0 AS amount,
        assessed.assessable - coalesce(not_zero_cases.cases, 0) AS cases
    FROM assessed
    LEFT JOIN not_zero_cases
        ON not_zero_cases.measure = assessed.measure
        AND not_zero_cases.cell_no = assessed.cell_no
)

SELECT
    measure,
    CAST(floor(cell_no / 1000000e0) AS BIGINT) AS month_no,
    cell_no,
    amount,
    cases
FROM counted
WHERE cases > 0
