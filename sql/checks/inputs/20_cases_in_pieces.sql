-- cases_in_pieces: cases whose readings do not stand together, or not in the order of time.
--
-- Kept    table
-- Grain   one row such a case
-- Reads   vitals
--
-- Rules
--   Most exports stand in order, so that the row before is the reading before and nothing need be sorted. The rules
--   that look at neighbors sort the readings of these cases only.

WITH

as_they_stand AS (
    SELECT
        case_id,
        taken_at_s,
        lag(case_id) OVER () AS case_before,
        lag(taken_at_s) OVER () AS before_s
    FROM vitals
),

breaks AS (
    SELECT case_id, CASE WHEN case_before = case_id THEN 1 ELSE 0 END AS out_of_order
    FROM as_they_stand
    WHERE case_before IS DISTINCT FROM case_id OR before_s > taken_at_s OR taken_at_s IS NULL
)

SELECT case_id
FROM breaks
WHERE case_id IS NOT NULL
GROUP BY case_id
HAVING count(*) > 1 OR sum(out_of_order) > 0
