-- check_vitals: every reading with what it is held against.
--
-- Kept    view
-- Grain   one row a reading
-- Reads   vitals, case_parameters, check_files
-- Units   value, low, high in the parameter's unit; *_s seconds of UTC since 1970

SELECT
    vitals.case_id,
    vitals.taken_at,
    vitals.taken_at_s,
    vitals.parameter,
    vitals.value,
    vitals.source_file,
    vitals.source_row,
    case_parameters.case_id AS known_case,
    case_parameters.low,
    case_parameters.high,
    case_parameters.from_s,
    case_parameters.to_s,
    case_parameters.off_s,
    case_parameters.died_s,
    check_files.loaded_s
FROM vitals
LEFT JOIN case_parameters
    ON case_parameters.case_id = vitals.case_id
    AND case_parameters.parameter = vitals.parameter
LEFT JOIN check_files ON check_files.file_id = vitals.source_file
