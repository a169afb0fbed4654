-- vitals_gap_10: is the heart rate charted at least every ten minutes?
--
-- Judges  every case with a start and an end more than charting_gap_min apart
-- Reads   check_cases, longest_gaps, check_values

SELECT
    CASE
        WHEN longest_gaps.gap_s > 60e0 * check_values.charting_gap_min THEN 1
        ELSE 0
    END AS failed,
    check_cases.case_id,
    check_cases.source_file,
    check_cases.source_row,
    CASE
        WHEN failed = 1 THEN 'no heart rate from ' || local_time(longest_gaps.from_s, check_cases.offset_s) || ' to '
            || local_time(longest_gaps.from_s + longest_gaps.gap_s, check_cases.offset_s)
    END AS found
FROM check_cases
CROSS JOIN check_values
INNER JOIN longest_gaps ON longest_gaps.case_id = check_cases.case_id
WHERE check_cases.end_s - check_cases.start_s > 60e0 * check_values.charting_gap_min
