-- vitals_gap_10: is the heart rate charted at least every ten minutes?
--
-- Judges  every case with a start and an end more than charting_gap_min apart
-- Reads   check_cases, vital_marks, check_values
--
-- Rules
--   Start, end and every heart rate between them are the points; no heart rate at all is one long gap.

WITH

judged AS (
    SELECT check_cases.*
    FROM check_cases
    CROSS JOIN check_values
    WHERE check_cases.end_s - check_cases.start_s > 60e0 * check_values.charting_gap_min
        AND (SELECT count(*) FROM vital_marks) > 0
),

points AS (
    SELECT judged.case_id, judged.start_s AS from_s, judged.start_s AS to_s
    FROM judged
    UNION ALL
    SELECT judged.case_id, judged.end_s AS from_s, judged.end_s AS to_s
    FROM judged
    UNION ALL
    SELECT
        judged.case_id,
        greatest(vital_marks.first_s, judged.start_s) AS from_s,
        least(vital_marks.last_s, judged.end_s) AS to_s
    FROM judged
    INNER JOIN vital_marks
        ON vital_marks.case_id = judged.case_id
        AND vital_marks.parameter = 'heart_rate'
        AND vital_marks.last_s >= judged.start_s
        AND vital_marks.first_s <= judged.end_s
),

gaps AS (
    SELECT
        case_id,
        to_s AS gap_from_s,
        lead(from_s) OVER (PARTITION BY case_id ORDER BY from_s, to_s) AS gap_to_s
    FROM points
),

longest AS (
    SELECT
        case_id,
        gap_from_s,
        gap_to_s,
        row_number() OVER (PARTITION BY case_id ORDER BY gap_to_s - gap_from_s DESC, gap_from_s) AS place
    FROM gaps
    WHERE gap_to_s IS NOT NULL
)

SELECT
    CASE WHEN longest.gap_to_s - longest.gap_from_s > 60e0 * check_values.charting_gap_min THEN 1 ELSE 0 END AS failed,
    judged.case_id,
    'heart_rate' AS parameter,
    longest.gap_from_s AS at_s,
    judged.source_file,
    judged.source_row,
    'no heart rate from ' || local_time(longest.gap_from_s, judged.offset_s) || ' to '
        || local_time(longest.gap_to_s, judged.offset_s) AS found
FROM judged
CROSS JOIN check_values
INNER JOIN longest ON longest.case_id = judged.case_id AND longest.place = 1
