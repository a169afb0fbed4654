-- trend_counts: the shares that are tested for a trend over ASA classes, by class.
--
-- Grain   one row a measure, group and ASA class with an assessable case
-- Reads   share_cells, cell_groups, seed_measures
-- Units   cases
-- Source  none
-- Built   by period
--
-- Rules
--   Within an ASA class, or where it is unknown, there is no trend.

WITH

tested AS (
    SELECT DISTINCT base AS measure
    FROM seed_measures
    WHERE kind = 'trend'
)

SELECT
    share_cells.measure,
    cell_groups.group_no,
    cell_groups.asa_class,
    CAST(sum(share_cells.assessable) AS BIGINT) AS assessable,
    CAST(sum(share_cells.having_it) AS BIGINT) AS having_it
FROM share_cells
INNER JOIN tested ON tested.measure = share_cells.measure
INNER JOIN cell_groups ON cell_groups.cell_no = share_cells.cell_no
WHERE cell_groups.by_column NOT IN ('asa_class', 'asa_class x species')
    AND cell_groups.asa_class IN ('1', '2', '3', '4', '5')
GROUP BY share_cells.measure, cell_groups.group_no, cell_groups.asa_class
