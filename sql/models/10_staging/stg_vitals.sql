-- stg_vitals: the readings as charted, long.
--
-- Grain   one row a reading that has a value
-- Reads   vitals, set_aside_rows
-- Units   taken_s seconds of UTC since 1970; val in the parameter's own unit
-- Source  none

SELECT
    vitals.case_id,
    vitals.parameter,
    vitals.taken_at_s AS taken_s,
    vitals.value AS val
FROM vitals
LEFT JOIN set_aside_rows
    ON set_aside_rows.table_name = 'vitals'
    AND set_aside_rows.source_file = vitals.source_file
    AND set_aside_rows.source_row = vitals.source_row
WHERE set_aside_rows.rule_id IS NULL
    AND vitals.value IS NOT NULL
