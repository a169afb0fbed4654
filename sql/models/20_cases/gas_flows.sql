-- gas_flows: fresh gas flow and vaporizer dial as steps.
--
-- Grain   one row a case with a start and moment at which a setting was charted
-- Reads   vital_readings, case_windows
-- Units   L/min; dial %; from_s, to_s seconds of UTC since 1970
-- Source  none
-- Built   by case
--
-- Rules
--   A setting stands until the next one of its kind, without limit, also from before the window; before the
--   first it is unknown. to_s is the next moment, or far away for the last.

WITH

moments AS (
    SELECT
        vital_readings.case_id,
        vital_readings.taken_s,
        max(CASE WHEN vital_readings.parameter = 'o2_flow' THEN vital_readings.val END) AS o2,
        max(CASE WHEN vital_readings.parameter = 'air_flow' THEN vital_readings.val END) AS air,
        max(CASE WHEN vital_readings.parameter = 'n2o_flow' THEN vital_readings.val END) AS n2o,
        max(CASE WHEN vital_readings.parameter = 'vaporizer_setting' THEN vital_readings.val END) AS dial
    FROM vital_readings
    INNER JOIN case_windows ON case_windows.case_id = vital_readings.case_id
    WHERE vital_readings.reason IS NULL
        AND vital_readings.parameter IN ('o2_flow', 'air_flow', 'n2o_flow', 'vaporizer_setting')
    GROUP BY vital_readings.case_id, vital_readings.taken_s
),

numbered AS (
    SELECT
        case_id,
        taken_s,
        o2,
        air,
        n2o,
        dial,
        lead(taken_s) OVER (PARTITION BY case_id ORDER BY taken_s) AS next_s,
        count(o2) OVER (PARTITION BY case_id ORDER BY taken_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
            AS o2_no,
        count(air) OVER (PARTITION BY case_id ORDER BY taken_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
            AS air_no,
        count(n2o) OVER (PARTITION BY case_id ORDER BY taken_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
            AS n2o_no,
        count(dial) OVER (PARTITION BY case_id ORDER BY taken_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
            AS dial_no
    FROM moments
)

SELECT
    case_id,
    taken_s AS from_s,
    coalesce(next_s, 9000000000000) AS to_s,
    max(o2) OVER (PARTITION BY case_id, o2_no) AS o2_l_min,
    max(air) OVER (PARTITION BY case_id, air_no) AS air_l_min,
    max(n2o) OVER (PARTITION BY case_id, n2o_no) AS n2o_l_min,
    max(dial) OVER (PARTITION BY case_id, dial_no) AS dial_percent
FROM numbered
