-- remarkable: readings that differ from those before them in their case as some rule looks for.
--
-- Kept    table
-- Grain   one row such a reading of heart rate, pressure or temperature
-- Reads   in_file_order, check_values
-- Units   *_s seconds of UTC since 1970; value in the parameter's unit
--
-- Rules
--   turns: earlier than the one before, or without a time: the readings do not stand in the order of time.
--   gap: more than charting_note_min after the heart rate before.
--   same: equals the reading before, the third and the sixth before, as a copied one does and few others.
--   falls: more than temperature_dip_c below the temperature before, within temperature_dip_min.

WITH

pressures AS (
    SELECT * FROM in_file_order('sap')
    UNION ALL
    SELECT * FROM in_file_order('map')
    UNION ALL
    SELECT * FROM in_file_order('dap')
),

marked AS (
    SELECT
        rates.* EXCLUDE (third_before, sixth_before),
        taken_at_s < before_s OR taken_at_s IS NULL AS turns,
        taken_at_s - before_s > 60e0 * check_values.charting_note_min AS gap,
        value = value_before AND value = third_before AND value = sixth_before AS same,
        FALSE AS falls
    FROM in_file_order('heart_rate') AS rates
    CROSS JOIN check_values
    UNION ALL
    SELECT
        * EXCLUDE (third_before, sixth_before),
        taken_at_s < before_s OR taken_at_s IS NULL AS turns,
        FALSE AS gap,
        value = value_before AND value = third_before AND value = sixth_before AS same,
        FALSE AS falls
    FROM pressures
    UNION ALL
    SELECT
        temperatures.* EXCLUDE (third_before, sixth_before),
        taken_at_s < before_s OR taken_at_s IS NULL AS turns,
        FALSE AS gap,
        FALSE AS same,
        value_before - value > check_values.temperature_dip_c
            AND taken_at_s - before_s <= 60e0 * check_values.temperature_dip_min AS falls
    FROM in_file_order('temperature') AS temperatures
    CROSS JOIN check_values
)

-- Distinct, so that no order need be kept and the parameters are read side by side.
SELECT DISTINCT case_id, parameter, taken_at_s, value, before_s, value_before, turns, gap, same, falls
FROM marked
WHERE case_id = case_before AND (turns OR gap OR same OR falls)
