-- share_cells: cases that could be judged and cases that have it, for every share and cell.
--
-- Grain   one row a measure and cell with an assessable case
-- Reads   case_shares, case_cells
-- Units   cases
-- Source  none
-- Built   by month
--
-- Rules
--   A case in its cells times its measures would be a hundred rows a case and more, for most of which the answer is
--   no. So cases that could be judged by the same measures are counted together, and only those that have it singly.
--   The measures of a case are the bits of a number, 50 to a number.

WITH

measures AS (
    SELECT
        measure,
        measure_no,
        CAST(floor(measure_no / 50e0) AS BIGINT) AS word_no,
        CAST(pow(2e0, measure_no % 50) AS BIGINT) AS bit
    FROM (
        SELECT measure, row_number() OVER (ORDER BY measure) AS measure_no
        FROM case_shares
        GROUP BY measure
    ) AS numbered
),

shares AS (
    SELECT case_shares.case_id, measures.measure_no, measures.word_no, measures.bit, case_shares.has
    FROM case_shares
    INNER JOIN measures ON measures.measure = case_shares.measure
    WHERE case_shares.assessable = 1
),

judged AS (
    SELECT case_id, word_no, CAST(sum(bit) AS BIGINT) AS bits
    FROM shares
    GROUP BY case_id, word_no
),

judged_alike AS (
    SELECT case_cells.cell_no, judged.word_no, judged.bits, count(*) AS cases
    FROM judged
    INNER JOIN case_cells ON case_cells.case_id = judged.case_id
    GROUP BY case_cells.cell_no, judged.word_no, judged.bits
),

assessed AS (
    SELECT judged_alike.cell_no, measures.measure_no, CAST(sum(judged_alike.cases) AS BIGINT) AS assessable
    FROM judged_alike
    INNER JOIN measures
        ON measures.word_no = judged_alike.word_no
        AND judged_alike.bits % (2 * measures.bit) >= measures.bit
    GROUP BY judged_alike.cell_no, measures.measure_no
),

having_it AS (
    SELECT case_cells.cell_no, shares.measure_no, count(*) AS cases
    FROM shares
    INNER JOIN case_cells ON case_cells.case_id = shares.case_id
    WHERE shares.has = 1
    GROUP BY case_cells.cell_no, shares.measure_no
)

SELECT
    measures.measure,
    CAST(floor(assessed.cell_no / 1000000e0) AS BIGINT) AS month_no,
    assessed.cell_no,
    assessed.assessable,
    coalesce(having_it.cases, 0) AS having_it
FROM assessed
INNER JOIN measures ON measures.measure_no = assessed.measure_no
LEFT JOIN having_it
    ON having_it.cell_no = assessed.cell_no
    AND having_it.measure_no = assessed.measure_no
