-- all_groups: the group of all years that each group of a calendar year is part of.
--
-- Grain   one row a group of a calendar year
-- Reads   year_groups, group_counts, report_periods
-- Units   none
-- Source  none
-- Built   by period

SELECT
    year_groups.year_group_no,
    group_counts.group_no
FROM year_groups
CROSS JOIN report_periods
INNER JOIN group_counts
    ON group_counts.period = report_periods.period
    AND group_counts.by_column = year_groups.by_column
    AND group_counts.level_text = year_groups.level_text
WHERE report_periods.kind = 'all'
