-- vitals_dial_has_flow: does oxygen flow wherever the vaporizer is open?
--
-- Judges  every case that charts an open dial and oxygen flow
-- Reads   doubtful_readings, case_readings
--
-- Rules
--   A flow stands until the next one; before the first one it is unknown. Only a case with a flow of nothing can
--   fail, so only such a case is looked at reading by reading.

WITH

doubtful AS (
    SELECT case_id FROM case_readings WHERE o2_lowest <= 0e0
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
    case_readings.case_id,
    'vaporizer_setting' AS parameter,
    dry.at_s,
    case_readings.dial_file AS source_file,
    CASE
        WHEN failed = 1 THEN 'dial ' || CAST(dry.dial_percent AS VARCHAR) || ' %, no oxygen; '
            || CAST(dry.readings AS VARCHAR) || ' readings'
    END AS found
FROM case_readings
LEFT JOIN dry ON dry.case_id = case_readings.case_id
WHERE case_readings.dial_highest > 0e0 AND case_readings.o2_lowest IS NOT NULL AND case_readings.case_id IS NOT NULL
