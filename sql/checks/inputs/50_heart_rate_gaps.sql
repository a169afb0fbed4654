-- heart_rate_gaps: times in which no heart rate was charted.
--
-- Kept    table
-- Grain   one row a gap of more than charting_note_min between two charted heart rates of a case
-- Reads   vitals, cases_in_pieces, check_values
-- Units   from_s, to_s seconds of UTC since 1970

WITH

as_they_stand AS (
    SELECT
        case_id,
        taken_at_s,
        lag(case_id) OVER () AS case_before,
        lag(taken_at_s) OVER () AS before_s
    FROM vitals
    WHERE parameter = 'heart_rate' AND value IS NOT NULL
),

sorted AS (
    SELECT
        vitals.case_id,
        vitals.taken_at_s,
        lag(vitals.taken_at_s) OVER (PARTITION BY vitals.case_id ORDER BY vitals.taken_at_s) AS before_s
    FROM vitals
    INNER JOIN cases_in_pieces ON cases_in_pieces.case_id = vitals.case_id
    WHERE vitals.parameter = 'heart_rate' AND vitals.value IS NOT NULL
)

SELECT as_they_stand.case_id, as_they_stand.before_s AS from_s, as_they_stand.taken_at_s AS to_s
FROM as_they_stand
CROSS JOIN check_values
WHERE as_they_stand.taken_at_s - as_they_stand.before_s > 60e0 * check_values.charting_note_min
    AND as_they_stand.case_before = as_they_stand.case_id
    AND as_they_stand.case_id NOT IN (SELECT case_id FROM cases_in_pieces)
UNION ALL
SELECT sorted.case_id, sorted.before_s AS from_s, sorted.taken_at_s AS to_s
FROM sorted
CROSS JOIN check_values
WHERE sorted.taken_at_s - sorted.before_s > 60e0 * check_values.charting_note_min
