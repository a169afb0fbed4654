-- gas_flows: fresh gas flow and vaporizer dial as steps.
--
-- Grain   one row a case with a start and moment at which a setting was charted
-- Reads   vital_readings, case_numbers
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
        case_numbers.case_no,
        vital_readings.taken_s,
        max(CASE WHEN vital_readings.parameter = 'o2_flow' THEN vital_readings.val END) AS o2,
        max(CASE WHEN vital_readings.parameter = 'air_flow' THEN vital_readings.val END) AS air,
        max(CASE WHEN vital_readings.parameter = 'n2o_flow' THEN vital_readings.val END) AS n2o,
        max(CASE WHEN vital_readings.parameter = 'vaporizer_setting' THEN vital_readings.val END) AS dial
    FROM vital_readings
    INNER JOIN case_numbers ON case_numbers.case_id = vital_readings.case_id
    WHERE vital_readings.reason IS NULL
        AND vital_readings.parameter IN ('o2_flow', 'air_flow', 'n2o_flow', 'vaporizer_setting')
    GROUP BY case_numbers.case_no, vital_readings.taken_s
),

numbered AS (
    SELECT
        case_no,
        taken_s,
        o2,
        air,
        n2o,
        dial,
        lead(taken_s) OVER (PARTITION BY case_no ORDER BY taken_s) AS next_s,
        count(o2) OVER (PARTITION BY case_no ORDER BY taken_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
            AS o2_no,
        count(air) OVER (PARTITION BY case_no ORDER BY taken_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
            AS air_no,
        count(n2o) OVER (PARTITION BY case_no ORDER BY taken_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
            AS n2o_no,
        count(dial) OVER (PARTITION BY case_no ORDER BY taken_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
            AS dial_no
    FROM moments
)

SELECT
    case_numbers.case_id,
    numbered.taken_s AS from_s,
    coalesce(numbered.next_s, 9000000000000) AS to_s,
    o2_steps.o2 AS o2_l_min,
    air_steps.air AS air_l_min,
    n2o_steps.n2o AS n2o_l_min,
    dial_steps.dial AS dial_percent
FROM numbered
INNER JOIN case_numbers ON case_numbers.case_no = numbered.case_no
LEFT JOIN numbered AS o2_steps
    ON o2_steps.case_no = numbered.case_no
    AND o2_steps.o2_no = numbered.o2_no
    AND o2_steps.o2 IS NOT NULL
LEFT JOIN numbered AS air_steps
    ON air_steps.case_no = numbered.case_no
    AND air_steps.air_no = numbered.air_no
    AND air_steps.air IS NOT NULL
LEFT JOIN numbered AS n2o_steps
    ON n2o_steps.case_no = numbered.case_no
    AND n2o_steps.n2o_no = numbered.n2o_no
    AND n2o_steps.n2o IS NOT NULL
LEFT JOIN numbered AS dial_steps
    ON dial_steps.case_no = numbered.case_no
    AND dial_steps.dial_no = numbered.dial_no
    AND dial_steps.dial IS NOT NULL
