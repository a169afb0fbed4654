-- stage_counts: how many cases were watched for how long, and how many of them reached the stage then.
--
-- Grain   one row a measure, group and time
-- Reads   case_stages, case_cells, cell_groups
-- Units   minutes; cases
-- Source  none
-- Built   by period

SELECT
    case_stages.measure,
    cell_groups.group_no,
    case_stages.minutes,
    count(*) AS cases,
    CAST(sum(case_stages.seen) AS BIGINT) AS seen
FROM case_stages
INNER JOIN case_cells ON case_cells.case_id = case_stages.case_id
INNER JOIN cell_groups ON cell_groups.cell_no = case_cells.cell_no
GROUP BY case_stages.measure, cell_groups.group_no, case_stages.minutes
