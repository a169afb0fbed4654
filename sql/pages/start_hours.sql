-- start_hours: when in the day anesthetics begin, and how many of them had a charted complication.
--
-- Grain   one row a local hour
-- Reads   cases, case_windows, case_shares
-- Units   counts of cases; hour 0 to 23, the clinic's own clock
-- Source  none
--
-- Rules
--   Start as in case_windows, on the clock it was charted by. $first, $last: month numbers, both inside.

SELECT
    hour(coalesce(cases.induction_at, cases.intubation_at, cases.vaporizer_on_at)) AS start_hour,
    count(*) AS cases,
    CAST(sum(coalesce(case_shares.assessable, 0)) AS BIGINT) AS judged,
    CAST(sum(coalesce(case_shares.has, 0)) AS BIGINT) AS having_it
FROM case_windows
INNER JOIN cases ON cases.case_id = case_windows.case_id
LEFT JOIN case_shares
    ON case_shares.case_id = case_windows.case_id
    AND case_shares.measure = 'complication'
WHERE case_windows.month_no BETWEEN $first AND $last
GROUP BY hour(coalesce(cases.induction_at, cases.intubation_at, cases.vaporizer_on_at))
ORDER BY start_hour
