-- case_people_in_case: does a person's part lie within the case?
--
-- Judges  every part with a time, of a case with times
-- Reads   case_people, check_cases, check_values

SELECT
    CASE
        WHEN least(case_people.from_at_s, case_people.to_at_s)
                < check_cases.first_s - 3600e0 * check_values.part_margin_h
            OR greatest(case_people.from_at_s, case_people.to_at_s)
                > check_cases.last_s + 3600e0 * check_values.part_margin_h THEN 1
        ELSE 0
    END AS failed,
    case_people.case_id,
    case_people.source_file,
    case_people.source_row,
    case_people.person,
    CASE
        WHEN failed = 1 THEN case_people.role || ' from ' || coalesce(CAST(case_people.from_at AS VARCHAR), 'blank')
            || ' to ' || coalesce(CAST(case_people.to_at AS VARCHAR), 'blank')
    END AS found
FROM case_people
INNER JOIN check_cases ON check_cases.case_id = case_people.case_id
CROSS JOIN check_values
WHERE coalesce(case_people.from_at_s, case_people.to_at_s) IS NOT NULL AND check_cases.last_s IS NOT NULL
