-- vitals_dial_has_flow: does oxygen flow wherever the vaporizer is open?
--
-- Judges  every reading of an open dial in a case that charts oxygen flow
-- Reads   vitals, vital_groups
--
-- Rules
--   A flow stands until the next one. Before the first one it is unknown, and nothing is judged.

WITH

settings AS (
    SELECT
        vitals.case_id,
        vitals.parameter,
        vitals.taken_at_s,
        vitals.value,
        vitals.source_file,
        vitals.source_row
    FROM vitals
    INNER JOIN vital_groups ON vital_groups.case_id = vitals.case_id AND vital_groups.parameter = 'o2_flow'
    WHERE vitals.parameter IN ('vaporizer_setting', 'o2_flow') AND vitals.value IS NOT NULL
),

standing AS (
    SELECT
        settings.*,
        last_value(CASE WHEN parameter = 'o2_flow' THEN value END IGNORE NULLS) OVER (
            PARTITION BY case_id
            ORDER BY taken_at_s, CASE parameter WHEN 'o2_flow' THEN 0 ELSE 1 END
            ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS flow_l_min
    FROM settings
)

SELECT
    CASE WHEN flow_l_min > 0e0 THEN 0 WHEN flow_l_min <= 0e0 THEN 1 END AS failed,
    case_id,
    source_file,
    source_row,
    'dial ' || CAST(value AS VARCHAR) || ' %, oxygen ' || CAST(flow_l_min AS VARCHAR) || ' L/min' AS found
FROM standing
WHERE parameter = 'vaporizer_setting' AND value > 0e0
