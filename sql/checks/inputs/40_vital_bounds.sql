-- vital_bounds: what the readings of a case and parameter are held against; those beyond doubt stand together.
--
-- Kept    table
-- Grain   one row a doubtful case and parameter; one row for all sound ones of a parameter that lack the same
-- Reads   vital_groups, check_sheets, check_bounds, check_files
-- Units   lowest, low, high in the parameter's unit; *_s seconds of UTC since 1970
--
-- Rules
--   A case and parameter is doubtful where its lowest, highest, first or last reading is past anything that a rule
--   within a row holds it against. A new such rule must make what it looks for doubtful here.

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

-- Any sound group stands for all that lack the same.
gathered AS (
    SELECT
        doubtful,
        CASE WHEN doubtful THEN case_id END AS case_id,
        parameter,
        sum(readings) AS readings,
        any_value(
            {'known_case': known_case, 'first_s': first_s, 'lowest': lowest, 'low': low, 'high': high,
             'from_s': from_s, 'to_s': to_s, 'off_s': off_s, 'died_s': died_s, 'loaded_s': loaded_s}
        ) AS one
    FROM held
    GROUP BY
        doubtful, 2, parameter, low IS NULL, high IS NULL, from_s IS NULL, to_s IS NULL, off_s IS NULL,
        died_s IS NULL, loaded_s IS NULL
)

SELECT doubtful, case_id, parameter, readings, one.*
FROM gathered
