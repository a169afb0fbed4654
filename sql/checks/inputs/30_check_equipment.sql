-- check_equipment: every row of equipment with the day its file was loaded.
--
-- Kept    view
-- Grain   one row of equipment
-- Reads   equipment, check_files
-- Units   loaded_s seconds of UTC since 1970

SELECT
    equipment.*,
    check_files.loaded_s
FROM equipment
LEFT JOIN check_files ON check_files.file_id = equipment.source_file
