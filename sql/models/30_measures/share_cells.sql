-- share_cells: cases that could be judged and cases that have it, for every share and cell.
--
-- Grain   one row a measure and cell with an assessable case
-- Reads   case_shares, case_cells
-- Units   cases
-- Source  none
-- Built   by month

WITH

counted AS (
    SELECT
        case_shares.measure,
        case_cells.cell_no,
        count(*) AS assessable,
        CAST(sum(case_shares.has) AS BIGINT) AS having_it
    FROM case_shares
    INNER JOIN case_cells ON case_cells.case_id = case_shares.case_id
    WHERE case_shares.assessable = 1
    GROUP BY case_shares.measure, case_cells.cell_no
)

SELECT
    measure,
    CAST(floor(cell_no / 1000000e0) AS BIGINT) AS month_no,
    cell_no,
    assessable,
    having_it
FROM counted
