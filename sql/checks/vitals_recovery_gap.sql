-- vitals_recovery_gap: is the animal looked at every quarter hour until it is handed over?
--
-- Judges  every case handed over more than recovery_gap_min after its end, where recovery is charted at all
-- Reads   check_cases, vitals, vital_groups, check_values
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
        AND (SELECT count(*) FROM vital_groups) > 0
),

charted AS (
    SELECT recovering.case_id, recovering.end_s, recovering.handed_s
    FROM recovering
    INNER JOIN vital_groups ON vital_groups.case_id = recovering.case_id
    WHERE vital_groups.parameter IN ('heart_rate', 'respiratory_rate', 'temperature')
    GROUP BY recovering.case_id, recovering.end_s, recovering.handed_s
    HAVING max(vital_groups.last_s) > recovering.end_s
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
        case_id,
        point_s,
        next_s,
        row_number() OVER (PARTITION BY case_id ORDER BY next_s - point_s DESC, point_s) AS place
    FROM gaps
    WHERE next_s IS NOT NULL
)

SELECT
    CASE WHEN longest.next_s - longest.point_s > 60e0 * check_values.recovery_gap_min THEN 1 ELSE 0 END AS failed,
    recovering.case_id,
    recovering.source_file,
    recovering.source_row,
    CASE
        WHEN failed = 1 THEN 'nothing from ' || local_time(longest.point_s, recovering.offset_s) || ' to '
            || local_time(longest.next_s, recovering.offset_s)
    END AS found
FROM recovering
CROSS JOIN check_values
INNER JOIN longest ON longest.case_id = recovering.case_id AND longest.place = 1
WHERE (SELECT count(*) FROM readings) > 0
