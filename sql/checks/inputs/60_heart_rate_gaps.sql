-- heart_rate_gaps: times in which no heart rate was charted.
--
-- Kept    table
-- Grain   one row a gap of more than charting_note_min between two charted heart rates of a case
-- Reads   remarkable, groups_in_pieces, doubtful_readings, check_values
-- Units   from_s, to_s seconds of UTC since 1970

WITH

in_pieces AS (
    SELECT case_id
    FROM groups_in_pieces
    WHERE parameter = 'heart_rate'
),

sorted AS (
    SELECT
        readings.case_id,
        readings.taken_at_s,
        lag(readings.taken_at_s) OVER (PARTITION BY readings.case_id ORDER BY readings.taken_at_s) AS before_s
    FROM doubtful_readings AS readings
    INNER JOIN in_pieces ON in_pieces.case_id = readings.case_id
    WHERE readings.parameter = 'heart_rate' AND readings.value IS NOT NULL
)

SELECT case_id, before_s AS from_s, taken_at_s AS to_s
FROM remarkable
WHERE gap AND case_id NOT IN (SELECT case_id FROM in_pieces)
UNION ALL
SELECT sorted.case_id, sorted.before_s AS from_s, sorted.taken_at_s AS to_s
FROM sorted
CROSS JOIN check_values
WHERE sorted.taken_at_s - sorted.before_s > 60e0 * check_values.charting_note_min
