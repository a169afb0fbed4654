-- stage_cells: how many cases of each cell were watched for how long, and how many of them reached the stage then.
--
-- Grain   one row a measure, cell and time
-- Reads   case_stages, case_cells
-- Units   minutes; cases; month_no year x 12 + month - 1
-- Source  none
-- Built   by month

SELECT
    case_stages.measure,
    case_cells.month_no,
    case_cells.cell_no,
    case_stages.minutes,
    count(*) AS cases,
    CAST(sum(case_stages.seen) AS BIGINT) AS seen
FROM case_stages
INNER JOIN case_cells ON case_cells.case_id = case_stages.case_id
GROUP BY case_stages.measure, case_cells.month_no, case_cells.cell_no, case_stages.minutes
