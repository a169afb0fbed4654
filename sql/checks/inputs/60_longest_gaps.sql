-- longest_gaps: the longest time of each case in which no heart rate was charted.
--
-- Kept    table
-- Grain   one row a case longer than charting_note_min or charting_gap_min, where heart rates are charted at all
-- Reads   check_cases, case_readings, remarkable, groups_in_pieces, doubtful_readings, check_values
-- Units   from_s seconds of UTC since 1970; gap_s seconds
--
-- Rules
--   Start, end and every heart rate between them are the points; no heart rate at all is one long gap. Of gaps as
--   long as each other the first is shown.

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
        lag(readings.taken_at_s) OVER (PARTITION BY readings.group_no ORDER BY readings.taken_at_s) AS before_s
    FROM doubtful_readings AS readings
    INNER JOIN in_pieces ON in_pieces.case_id = readings.case_id
    WHERE readings.parameter = 'heart_rate' AND readings.value IS NOT NULL
),

between_readings AS (
    SELECT case_id, before_s AS from_s, taken_at_s AS to_s
    FROM remarkable
    WHERE gap AND case_id NOT IN (SELECT case_id FROM in_pieces)
    UNION ALL
    SELECT sorted.case_id, sorted.before_s AS from_s, sorted.taken_at_s AS to_s
    FROM sorted
    CROSS JOIN check_values
    WHERE sorted.taken_at_s - sorted.before_s > 60e0 * check_values.charting_note_min
),

judged AS (
    SELECT
        check_cases.case_id, check_cases.start_s, check_cases.end_s, case_readings.heart_first_s,
        case_readings.heart_last_s
    FROM check_cases
    CROSS JOIN check_values
    LEFT JOIN case_readings ON case_readings.case_id = check_cases.case_id
    WHERE check_cases.end_s - check_cases.start_s
            > 60e0 * least(check_values.charting_note_min, check_values.charting_gap_min)
        AND (SELECT count(heart_first_s) FROM case_readings) > 0
),

gaps AS (
    SELECT
        judged.case_id,
        greatest(stretches.from_s, judged.start_s) AS from_s,
        least(stretches.to_s, judged.end_s) - greatest(stretches.from_s, judged.start_s) AS gap_s
    FROM judged
    INNER JOIN between_readings AS stretches ON stretches.case_id = judged.case_id
    UNION ALL
    SELECT case_id, start_s AS from_s, least(coalesce(heart_first_s, end_s), end_s) - start_s AS gap_s
    FROM judged
    UNION ALL
    SELECT case_id, greatest(heart_last_s, start_s) AS from_s, end_s - greatest(heart_last_s, start_s) AS gap_s
    FROM judged
    WHERE heart_last_s IS NOT NULL
)

SELECT case_id, max(gap_s) AS gap_s, arg_max(from_s, gap_s * 10000000000 - from_s) AS from_s
FROM gaps
GROUP BY case_id
