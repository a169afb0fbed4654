-- stage_counts: how many cases were watched for how long, and how many of them reached the stage then.
--
-- Grain   one row a measure, group and time
-- Reads   case_stages, case_cells, cell_groups, stage_years, all_groups
-- Units   minutes; cases
-- Source  none
-- Built   by period

WITH

parts AS (
    SELECT case_stages.measure, cell_groups.group_no, case_stages.minutes, 1 AS cases, case_stages.seen
    FROM case_stages
    INNER JOIN case_cells ON case_cells.case_id = case_stages.case_id
    INNER JOIN cell_groups ON cell_groups.cell_no = case_cells.cell_no
    WHERE cell_groups.kind <> 'all'
    UNION ALL
    SELECT stage_years.measure, all_groups.group_no, stage_years.minutes, stage_years.cases, stage_years.seen
    FROM stage_years
    INNER JOIN all_groups ON all_groups.year_group_no = stage_years.year_group_no
)

SELECT
    measure,
    group_no,
    minutes,
    CAST(sum(cases) AS BIGINT) AS cases,
    CAST(sum(seen) AS BIGINT) AS seen
FROM parts
GROUP BY measure, group_no, minutes
