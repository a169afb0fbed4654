-- check_vitals: every reading with what it is held against; readings beyond doubt stand together in a few rows.
--
-- Kept    table
-- Grain   one row a doubtful reading; one row for all sound readings of a parameter that lack the same
-- Reads   vitals, doubtful_readings, vital_bounds, check_sheets, check_bounds, check_files
-- Units   value, low, high in the parameter's unit; *_s seconds of UTC since 1970; readings how many a row stands for
--
-- Rules
--   A row that lacks its case, time, parameter or value stands for itself.

SELECT
    known_case AS case_id, parameter, make_timestamp(first_s * 1000000) AS taken_at, first_s AS taken_at_s,
    lowest AS value, readings, known_case, low, high, from_s, to_s, off_s, died_s, loaded_s,
    CAST(NULL AS BIGINT) AS source_file, CAST(NULL AS BIGINT) AS source_row
FROM vital_bounds
WHERE NOT doubtful
UNION ALL
SELECT
    readings.case_id, readings.parameter, readings.taken_at, readings.taken_at_s, readings.value, 1 AS readings,
    vital_bounds.known_case, vital_bounds.low, vital_bounds.high, vital_bounds.from_s, vital_bounds.to_s,
    vital_bounds.off_s, vital_bounds.died_s, check_files.loaded_s, readings.source_file, readings.source_row
FROM doubtful_readings AS readings
INNER JOIN vital_bounds
    ON vital_bounds.case_id = readings.case_id AND vital_bounds.parameter = readings.parameter
LEFT JOIN check_files ON check_files.file_id = readings.source_file
WHERE vital_bounds.doubtful AND readings.value IS NOT NULL AND readings.taken_at_s IS NOT NULL
UNION ALL
SELECT
    vitals.case_id, vitals.parameter, vitals.taken_at, vitals.taken_at_s, vitals.value, 1 AS readings,
    check_sheets.case_id AS known_case, check_bounds.low, check_bounds.high, check_sheets.from_s, check_sheets.to_s,
    check_sheets.off_s, check_sheets.died_s, check_files.loaded_s, vitals.source_file, vitals.source_row
FROM vitals
LEFT JOIN check_sheets ON check_sheets.case_id = vitals.case_id
LEFT JOIN check_bounds
    ON check_bounds.parameter = vitals.parameter
    AND check_bounds.species = coalesce(check_sheets.species, '')
    AND check_bounds.agent = coalesce(check_sheets.agent, '')
LEFT JOIN check_files ON check_files.file_id = vitals.source_file
WHERE vitals.case_id IS NULL OR vitals.parameter IS NULL OR vitals.taken_at_s IS NULL OR vitals.value IS NULL
