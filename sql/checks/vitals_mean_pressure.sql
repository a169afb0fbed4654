-- vitals_mean_pressure: does the mean pressure lie where systolic and diastolic put it?
--
-- Judges  every case and five-minute mark with all three pressures, in order
-- Reads   vital_marks, vitals, check_values
-- Units   mmHg
-- Source  mean = diastolic + (systolic - diastolic) / 3, near enough: a rule of the trade
--
-- Rules
--   A mark whose lowest and highest readings leave no doubt is not looked at reading by reading.

WITH

marks AS (
    SELECT
        case_id,
        mark,
        max(CASE WHEN parameter = 'map' THEN highest END)
            - min(CASE WHEN parameter = 'sap' THEN lowest / 3e0 END)
            - min(CASE WHEN parameter = 'dap' THEN lowest / 1.5e0 END) AS most_above,
        max(CASE WHEN parameter = 'sap' THEN highest / 3e0 END)
            + max(CASE WHEN parameter = 'dap' THEN highest / 1.5e0 END)
            - min(CASE WHEN parameter = 'map' THEN lowest END) AS most_below
    FROM vital_marks
    WHERE parameter IN ('sap', 'map', 'dap')
    GROUP BY case_id, mark
    HAVING count(*) = 3
),

moments AS (
    SELECT
        marks.case_id,
        marks.mark,
        vitals.taken_at_s,
        max(CASE WHEN vitals.parameter = 'sap' THEN vitals.value END) AS sap,
        max(CASE WHEN vitals.parameter = 'map' THEN vitals.value END) AS map,
        max(CASE WHEN vitals.parameter = 'dap' THEN vitals.value END) AS dap
    FROM marks
    CROSS JOIN check_values
    INNER JOIN vitals ON vitals.case_id = marks.case_id AND vitals.taken_at_s // 300 = marks.mark
    WHERE vitals.parameter IN ('sap', 'map', 'dap')
        AND (marks.most_above > check_values.mean_pressure_mmhg OR marks.most_below > check_values.mean_pressure_mmhg)
    GROUP BY marks.case_id, marks.mark, vitals.taken_at_s
),

wrong AS (
    SELECT
        moments.*,
        row_number() OVER (PARTITION BY moments.case_id, moments.mark ORDER BY moments.taken_at_s) AS place
    FROM moments
    CROSS JOIN check_values
    WHERE moments.sap >= moments.map AND moments.map >= moments.dap
        AND abs(moments.map - moments.dap - (moments.sap - moments.dap) / 3e0) > check_values.mean_pressure_mmhg
)

SELECT
    CASE WHEN wrong.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    marks.case_id,
    'map' AS parameter,
    wrong.taken_at_s AS at_s,
    CAST(wrong.sap AS VARCHAR) || '/' || CAST(wrong.map AS VARCHAR) || '/' || CAST(wrong.dap AS VARCHAR)
        || ' systolic/mean/diastolic' AS found
FROM marks
LEFT JOIN wrong ON wrong.case_id = marks.case_id AND wrong.mark = marks.mark AND wrong.place = 1
