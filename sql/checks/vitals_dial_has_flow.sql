-- vitals_dial_has_flow: does oxygen flow wherever the vaporizer is open?
--
-- Judges  every case that charts an open dial and oxygen flow
-- Reads   doubtful_readings, vital_groups
--
-- Rules
--   A flow stands until the next one; before the first one it is unknown. Only a case with a flow of nothing can
--   fail, so only such a case is looked at reading by reading.

WITH

doubtful AS (
    SELECT case_id FROM vital_groups WHERE parameter = 'o2_flow' AND lowest <= 0e0
),

settings AS (
    SELECT readings.case_id, readings.parameter, readings.taken_at_s, readings.value
    FROM doubtful_readings AS readings
    INNER JOIN doubtful ON doubtful.case_id = readings.case_id
    WHERE readings.parameter IN ('vaporizer_setting', 'o2_flow') AND readings.value IS NOT NULL
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
),

dry AS (
    SELECT case_id, min(taken_at_s) AS at_s, arg_min(value, taken_at_s) AS dial_percent, count(*) AS readings
    FROM standing
    WHERE parameter = 'vaporizer_setting' AND value > 0e0 AND flow_l_min <= 0e0
    GROUP BY case_id
)

SELECT
    CASE WHEN dry.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    dials.case_id,
    dials.parameter,
    dry.at_s,
    dials.first_file AS source_file,
    CASE
        WHEN failed = 1 THEN 'dial ' || CAST(dry.dial_percent AS VARCHAR) || ' %, no oxygen; '
            || CAST(dry.readings AS VARCHAR) || ' readings'
    END AS found
FROM vital_groups AS dials
INNER JOIN vital_groups AS flows ON flows.case_id = dials.case_id AND flows.parameter = 'o2_flow'
LEFT JOIN dry ON dry.case_id = dials.case_id
WHERE dials.parameter = 'vaporizer_setting' AND dials.highest > 0e0
