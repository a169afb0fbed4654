-- vitals_gap_5: is the heart rate charted at least every five minutes?
--
-- Judges  every case with a start and an end more than charting_note_min apart
-- Reads   check_cases, heart_rate_gaps, vital_groups, check_values
--
-- Rules
--   Start, end and every heart rate between them are the points; no heart rate at all is one long gap.
--   A gap longer than charting_gap_min is another rule's.

WITH

judged AS (
    SELECT check_cases.*
    FROM check_cases
    CROSS JOIN check_values
    WHERE check_cases.end_s - check_cases.start_s > 60e0 * check_values.charting_note_min
        AND (SELECT count(*) FROM vital_groups WHERE parameter = 'heart_rate') > 0
),

stretches AS (
    SELECT case_id, from_s, to_s FROM heart_rate_gaps
    UNION ALL
    SELECT judged.case_id, 0 AS from_s, coalesce(vital_groups.first_s, judged.end_s) AS to_s
    FROM judged
    LEFT JOIN vital_groups ON vital_groups.case_id = judged.case_id AND vital_groups.parameter = 'heart_rate'
    UNION ALL
    SELECT judged.case_id, vital_groups.last_s AS from_s, judged.end_s AS to_s
    FROM judged
    INNER JOIN vital_groups ON vital_groups.case_id = judged.case_id AND vital_groups.parameter = 'heart_rate'
),

gaps AS (
    SELECT
        judged.case_id,
        greatest(stretches.from_s, judged.start_s) AS from_s,
        least(stretches.to_s, judged.end_s) - greatest(stretches.from_s, judged.start_s) AS gap_s
    FROM judged
    INNER JOIN stretches ON stretches.case_id = judged.case_id
),

longest AS (
    SELECT case_id, max(gap_s) AS gap_s, arg_max(from_s, gap_s) AS from_s
    FROM gaps
    GROUP BY case_id
)

SELECT
    CASE
        WHEN longest.gap_s > 60e0 * check_values.charting_note_min
            AND longest.gap_s <= 60e0 * check_values.charting_gap_min THEN 1
        ELSE 0
    END AS failed,
    judged.case_id,
    judged.source_file,
    judged.source_row,
    CASE
        WHEN failed = 1 THEN 'no heart rate from ' || local_time(longest.from_s, judged.offset_s) || ' to '
            || local_time(longest.from_s + longest.gap_s, judged.offset_s)
    END AS found
FROM judged
CROSS JOIN check_values
INNER JOIN longest ON longest.case_id = judged.case_id
