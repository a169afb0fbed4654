-- stage_years: how many cases of each calendar year were watched for how long, and how many reached the stage then.
--
-- Grain   one row a measure, group of a year and time
-- Reads   case_stages, case_cells, year_cells
-- Units   minutes; cases
-- Source  none
-- Built   by year

WITH

cases AS (
    SELECT case_cells.case_id, year_cells.year_group_no
    FROM case_cells
    INNER JOIN year_cells ON year_cells.cell_no = case_cells.cell_no
),

counted AS (
    SELECT
        case_stages.measure,
        cases.year_group_no,
        case_stages.minutes,
        count(*) AS cases,
        CAST(sum(case_stages.seen) AS BIGINT) AS seen
    FROM case_stages
    INNER JOIN cases ON cases.case_id = case_stages.case_id
    GROUP BY case_stages.measure, cases.year_group_no, case_stages.minutes
)

SELECT
    measure,
    CAST(floor(year_group_no / 1000000e0) AS BIGINT) AS year_no,
    year_group_no,
    minutes,
    cases,
    seen
FROM counted
