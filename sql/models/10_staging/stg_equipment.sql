-- stg_equipment: what was done to the machines.
--
-- Grain   one row an action on a machine
-- Reads   equipment, set_aside_rows
-- Units   done_s seconds of UTC since 1970; val in val_unit; month_no year x 12 + month - 1, local
-- Source  none

SELECT
    equipment.machine_id,
    equipment.at_s AS done_s,
    CAST(equipment.at AS DATE) AS done_day,
    year(equipment.at) * 12 + month(equipment.at) - 1 AS month_no,
    equipment.item,
    equipment.action,
    equipment.value AS val,
    equipment.unit AS val_unit,
    equipment.person,
    equipment.case_id,
    equipment.source_file,
    equipment.source_row
FROM equipment
LEFT JOIN set_aside_rows
    ON set_aside_rows.table_name = 'equipment'
    AND set_aside_rows.source_file = equipment.source_file
    AND set_aside_rows.source_row = equipment.source_row
WHERE set_aside_rows.rule_id IS NULL
