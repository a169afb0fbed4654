-- case_charting: whether the heart rate was charted without a gap.
--
-- Grain   one row a case with a start
-- Reads   case_windows, stg_vitals, seed_windows
-- Units   none
-- Source  the longest gap is a row of seed_windows
-- Built   by case
--
-- Rules
--   Judged where the window is longer than the gap. Start, end and every charted heart rate between them are
--   the points; none charted is a gap.

WITH

numbers AS (
    SELECT 60e0 * max(CASE WHEN name = 'charting_gap_min' THEN val END) AS gap_s
    FROM seed_windows
),

judged AS (
    SELECT case_windows.case_id, case_windows.start_s, case_windows.end_s
    FROM case_windows
    CROSS JOIN numbers
    WHERE case_windows.window_s > numbers.gap_s
),

points AS (
    SELECT judged.case_id, judged.start_s AS point_s
    FROM judged
    UNION ALL
    SELECT judged.case_id, judged.end_s AS point_s
    FROM judged
    UNION ALL
    SELECT judged.case_id, stg_vitals.taken_s AS point_s
    FROM judged
    INNER JOIN stg_vitals
        ON stg_vitals.case_id = judged.case_id
        AND stg_vitals.taken_s >= judged.start_s
        AND stg_vitals.taken_s <= judged.end_s
    WHERE stg_vitals.parameter = 'heart_rate'
),

gaps AS (
    SELECT
        case_id,
        lead(point_s) OVER (PARTITION BY case_id ORDER BY point_s) - point_s AS gap_s
    FROM points
),

longest AS (
    SELECT case_id, max(gap_s) AS gap_s
    FROM gaps
    GROUP BY case_id
)

SELECT
    case_windows.case_id,
    CASE WHEN longest.case_id IS NULL THEN 0 ELSE 1 END AS assessable,
    CASE WHEN longest.gap_s > numbers.gap_s THEN 1 WHEN longest.case_id IS NOT NULL THEN 0 END AS has
FROM case_windows
CROSS JOIN numbers
LEFT JOIN longest ON longest.case_id = case_windows.case_id
