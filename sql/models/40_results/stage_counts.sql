-- stage_counts: how many cases were watched for how long, and how many of them reached the stage then.
--
-- Grain   one row a measure, group and time
-- Reads   stage_cells, cell_groups, stage_years, all_groups
-- Units   minutes; cases
-- Source  none
-- Built   by period

WITH

parts AS (
    SELECT stage_cells.measure, cell_groups.group_no, stage_cells.minutes, stage_cells.cases, stage_cells.seen
    FROM stage_cells
    INNER JOIN cell_groups ON cell_groups.cell_no = stage_cells.cell_no
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
