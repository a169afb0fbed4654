-- vitals_recovery_gap: is the animal looked at every quarter hour until it is handed over?
--
-- Judges  every case handed over more than recovery_gap_min after its end, where recovery is charted at all
-- Reads   check_cases, vitals, case_readings, check_values
--
-- Rules
--   End, handover, lying on the sternum, standing and every heart rate, respiratory rate and temperature between
--   them are the points.

WITH

recovering AS (
    SELECT
        check_cases.case_id,
        check_cases.source_file,
        check_cases.source_row,
        check_cases.offset_s,
        check_cases.end_s,
        check_cases.recovery_end_at_s AS handed_s,
        check_cases.sternal_at_s,
        check_cases.standing_at_s
    FROM check_cases
    CROSS JOIN check_values
    WHERE check_cases.recovery_end_at_s - check_cases.end_s > 60e0 * check_values.recovery_gap_min
        AND (SELECT count(*) FROM case_readings) > 0
),

charted AS (
    SELECT recovering.case_id, recovering.end_s, recovering.handed_s
    FROM recovering
    INNER JOIN case_readings ON case_readings.case_id = recovering.case_id
    WHERE case_readings.recovery_last_s > recovering.end_s
),

readings AS (
    SELECT DISTINCT charted.case_id, vitals.taken_at_s AS point_s
    FROM vitals
    INNER JOIN charted
        ON charted.case_id = vitals.case_id
        AND vitals.taken_at_s > charted.end_s
        AND vitals.taken_at_s < charted.handed_s
    WHERE vitals.parameter IN ('heart_rate', 'respiratory_rate', 'temperature') AND vitals.value IS NOT NULL
),

points AS (
    SELECT case_id, point_s FROM readings
    UNION ALL
    SELECT case_id, end_s AS point_s FROM recovering
    UNION ALL
    SELECT case_id, handed_s AS point_s FROM recovering
    UNION ALL
    SELECT case_id, sternal_at_s AS point_s FROM recovering WHERE sternal_at_s BETWEEN end_s AND handed_s
    UNION ALL
    SELECT case_id, standing_at_s AS point_s FROM recovering WHERE standing_at_s BETWEEN end_s AND handed_s
),

gaps AS (
    SELECT case_id, point_s, lead(point_s) OVER (PARTITION BY case_id ORDER BY point_s) AS next_s
    FROM points
),

longest AS (
    SELECT
        gaps.case_id,
        gaps.point_s,
        gaps.next_s,
        row_number() OVER (PARTITION BY gaps.case_id ORDER BY gaps.next_s - gaps.point_s DESC, gaps.point_s) AS place
    FROM gaps
    CROSS JOIN check_values
    WHERE gaps.next_s - gaps.point_s > 60e0 * check_values.recovery_gap_min
)

SELECT
    CASE WHEN longest.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    recovering.case_id,
    recovering.source_file,
    recovering.source_row,
    CASE
        WHEN failed = 1 THEN 'nothing from ' || local_time(longest.point_s, recovering.offset_s) || ' to '
            || local_time(longest.next_s, recovering.offset_s)
    END AS found
FROM recovering
LEFT JOIN longest ON longest.case_id = recovering.case_id AND longest.place = 1
WHERE (SELECT count(*) FROM readings) > 0
