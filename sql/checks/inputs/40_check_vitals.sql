-- check_vitals: every reading with what it is held against; readings beyond doubt stand together in a few rows.
--
-- Kept    table
-- Grain   one row a doubtful reading; one row for all sound readings of a parameter that lack the same
-- Reads   vitals, vital_groups, check_sheets, check_bounds, check_files
-- Units   value, low, high in the parameter's unit; *_s seconds of UTC since 1970; readings how many a row stands for
--
-- Rules
--   A case and parameter is doubtful where its lowest, highest, first or last reading is past anything that a rule
--   within a row holds it against. A new such rule must make what it looks for doubtful here.
--   A row that lacks its case, time, parameter or value stands for itself.

WITH

held AS (
    SELECT
        vital_groups.*,
        check_sheets.case_id AS known_case,
        check_bounds.low,
        check_bounds.high,
        check_sheets.from_s,
        check_sheets.to_s,
        check_sheets.off_s,
        check_sheets.died_s,
        check_files.loaded_s,
        vital_groups.case_id IS NULL OR vital_groups.parameter IS NULL OR coalesce(
            lowest < low OR highest > high
            OR (vital_groups.parameter = 'temperature' AND highest >= 77e0)
            OR (vital_groups.parameter = 'spo2' AND lowest <= 1e0)
            OR first_s < from_s OR last_s > to_s
            OR (last_s > off_s + 600 AND vital_groups.parameter = 'vaporizer_setting')
            OR last_s > died_s + 900
            OR last_s > loaded_s + 86400
            OR check_sheets.case_id IS NULL,
            FALSE
        ) AS doubtful
    FROM vital_groups
    LEFT JOIN check_sheets ON check_sheets.case_id = vital_groups.case_id
    LEFT JOIN check_bounds
        ON check_bounds.parameter = vital_groups.parameter
        AND check_bounds.species = coalesce(check_sheets.species, '')
        AND check_bounds.agent = coalesce(check_sheets.agent, '')
    LEFT JOIN check_files ON check_files.file_id = vital_groups.first_file
),

-- Doubtful groups each in a row of their own, the sound ones together: any of them stands for all that lack the same.
gathered AS (
    SELECT
        doubtful,
        CASE WHEN doubtful THEN case_id END AS doubtful_case,
        parameter,
        sum(readings) AS readings,
        any_value(
            {'case_id': known_case, 'at_s': first_s, 'value': lowest, 'low': low, 'high': high, 'from_s': from_s,
             'to_s': to_s, 'off_s': off_s, 'died_s': died_s, 'loaded_s': loaded_s}
        ) AS one
    FROM held
    GROUP BY
        doubtful, doubtful_case, parameter, low IS NULL, high IS NULL, from_s IS NULL, to_s IS NULL, off_s IS NULL,
        died_s IS NULL, loaded_s IS NULL
),

doubts AS (
    SELECT doubtful_case AS case_id, parameter, one
    FROM gathered
    WHERE doubtful
)

SELECT
    one.case_id, parameter, make_timestamp(one.at_s * 1000000) AS taken_at, one.at_s AS taken_at_s, one.value, readings,
    one.case_id AS known_case, one.low, one.high, one.from_s, one.to_s, one.off_s, one.died_s, one.loaded_s,
    CAST(NULL AS BIGINT) AS source_file, CAST(NULL AS BIGINT) AS source_row
FROM gathered
WHERE NOT doubtful
UNION ALL
SELECT
    vitals.case_id, vitals.parameter, vitals.taken_at, vitals.taken_at_s, vitals.value, 1 AS readings,
    one.case_id AS known_case, one.low, one.high, one.from_s, one.to_s, one.off_s, one.died_s,
    check_files.loaded_s, vitals.source_file, vitals.source_row
FROM vitals
INNER JOIN doubts ON doubts.case_id = vitals.case_id AND doubts.parameter = vitals.parameter
LEFT JOIN check_files ON check_files.file_id = vitals.source_file
WHERE vitals.value IS NOT NULL AND vitals.taken_at_s IS NOT NULL
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
