-- check_case_people: every row of case_people with the case it names.
--
-- Kept    view
-- Grain   one row of case_people
-- Reads   case_people, check_cases, check_files
-- Units   *_s seconds of UTC since 1970

SELECT
    case_people.*,
    one_case.case_id AS known_case,
    check_files.loaded_s
FROM case_people
LEFT JOIN (SELECT DISTINCT case_id FROM check_cases) AS one_case ON one_case.case_id = case_people.case_id
LEFT JOIN check_files ON check_files.file_id = case_people.source_file
