-- case_people_supervises_another: is the supervisor of a case somebody else than who was supervised?
--
-- Judges  every supervising part
-- Reads   case_people

SELECT
    CASE WHEN own.case_id IS NULL THEN 0 ELSE 1 END AS failed,
    case_people.case_id,
    case_people.source_file,
    case_people.source_row,
    case_people.person,
    CASE WHEN failed = 1 THEN 'supervising and ' || own.role || ' at once' END AS found
FROM case_people
LEFT JOIN (
    SELECT case_id, person, min(role) AS role
    FROM case_people
    WHERE role IN ('primary', 'assisting')
    GROUP BY case_id, person
) AS own
    ON own.case_id = case_people.case_id AND own.person = case_people.person
WHERE case_people.role = 'supervising'
