-- share_years: cases that could be judged and cases that have it, for every share and calendar year.
--
-- Grain   one row a measure and group of a year with an assessable case
-- Reads   share_cells, year_cells
-- Units   cases
-- Source  none
-- Built   by year

SELECT
    share_cells.measure,
    year_cells.year_no,
    year_cells.year_group_no,
    CAST(sum(share_cells.assessable) AS BIGINT) AS assessable,
    CAST(sum(share_cells.having_it) AS BIGINT) AS having_it
FROM share_cells
INNER JOIN year_cells ON year_cells.cell_no = share_cells.cell_no
GROUP BY share_cells.measure, year_cells.year_no, year_cells.year_group_no
