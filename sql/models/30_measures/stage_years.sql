-- stage_years: how many cases of each calendar year were watched for how long, and how many reached the stage then.
--
-- Grain   one row a measure, group of a year and time
-- Reads   stage_cells, year_cells
-- Units   minutes; cases
-- Source  none
-- Built   by year

SELECT
    stage_cells.measure,
    year_cells.year_no,
    year_cells.year_group_no,
    stage_cells.minutes,
    CAST(sum(stage_cells.cases) AS BIGINT) AS cases,
    CAST(sum(stage_cells.seen) AS BIGINT) AS seen
FROM stage_cells
INNER JOIN year_cells ON year_cells.cell_no = stage_cells.cell_no
GROUP BY stage_cells.measure, year_cells.year_no, year_cells.year_group_no, stage_cells.minutes
