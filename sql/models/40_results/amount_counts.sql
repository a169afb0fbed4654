-- amount_counts: how many cases have each amount, for every measure of which quartiles are shown.
--
-- Grain   one row a measure, group and amount
-- Reads   amount_cells, cell_groups, amount_years, all_groups
-- Units   amount in the unit of the measure; cases
-- Source  none
-- Built   by period
--
-- Rules
--   Quartiles are read off these counts: most amounts of an exposure are 0, so that counts are few.

WITH

parts AS (
    SELECT amount_cells.measure, cell_groups.group_no, amount_cells.amount, amount_cells.cases
    FROM amount_cells
    INNER JOIN cell_groups ON cell_groups.cell_no = amount_cells.cell_no
    WHERE cell_groups.kind <> 'all'
    UNION ALL
    SELECT amount_years.measure, all_groups.group_no, amount_years.amount, amount_years.cases
    FROM amount_years
    INNER JOIN all_groups ON all_groups.year_group_no = amount_years.year_group_no
)

SELECT
    measure,
    group_no,
    amount,
    CAST(sum(cases) AS BIGINT) AS cases
FROM parts
GROUP BY measure, group_no, amount
