-- vitals_pressure_order: is systolic >= mean >= diastolic?
--
-- Judges  every case and five-minute mark with at least two of the three pressures
-- Reads   vital_marks, vitals
-- Units   mmHg
--
-- Rules
--   A mark whose lowest and highest readings leave the order no doubt is not looked at reading by reading.

WITH

marks AS (
    SELECT
        case_id,
        mark,
        min(CASE WHEN parameter = 'sap' THEN lowest END) AS sap_low,
        max(CASE WHEN parameter = 'map' THEN highest END) AS map_high,
        min(CASE WHEN parameter = 'map' THEN lowest END) AS map_low,
        max(CASE WHEN parameter = 'dap' THEN highest END) AS dap_high
    FROM vital_marks
    WHERE parameter IN ('sap', 'map', 'dap')
    GROUP BY case_id, mark
    HAVING count(*) >= 2
),

doubtful AS (
    SELECT case_id, mark
    FROM marks
    WHERE sap_low < map_high OR map_low < dap_high OR sap_low < dap_high
),

moments AS (
    SELECT
        doubtful.case_id,
        doubtful.mark,
        vitals.taken_at_s,
        max(CASE WHEN vitals.parameter = 'sap' THEN vitals.value END) AS sap,
        max(CASE WHEN vitals.parameter = 'map' THEN vitals.value END) AS map,
        max(CASE WHEN vitals.parameter = 'dap' THEN vitals.value END) AS dap
    FROM doubtful
    INNER JOIN vitals ON vitals.case_id = doubtful.case_id AND vitals.taken_at_s // 300 = doubtful.mark
    WHERE vitals.parameter IN ('sap', 'map', 'dap')
    GROUP BY doubtful.case_id, doubtful.mark, vitals.taken_at_s
),

wrong AS (
    SELECT
        moments.*,
        row_number() OVER (PARTITION BY case_id, mark ORDER BY taken_at_s) AS place
    FROM moments
    WHERE sap < map OR map < dap OR sap < dap
)

SELECT
    CASE WHEN wrong.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    marks.case_id,
    CASE WHEN wrong.map IS NULL THEN 'sap' ELSE 'map' END AS parameter,
    wrong.taken_at_s AS at_s,
    coalesce(CAST(wrong.sap AS VARCHAR), 'blank') || '/' || coalesce(CAST(wrong.map AS VARCHAR), 'blank') || '/'
        || coalesce(CAST(wrong.dap AS VARCHAR), 'blank') || ' systolic/mean/diastolic' AS found
FROM marks
LEFT JOIN wrong ON wrong.case_id = marks.case_id AND wrong.mark = marks.mark AND wrong.place = 1
