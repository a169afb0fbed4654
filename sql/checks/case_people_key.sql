-- case_people_key: does each part of a person in a case stand once?
--
-- Judges  every part with a case, a person and a role
-- Reads   case_people

SELECT
    CASE WHEN count(*) OVER (PARTITION BY case_id, person, role, from_at_s) > 1 THEN 1 ELSE 0 END AS failed,
    case_id,
    source_file,
    source_row,
    person,
    role || ', stands ' || CAST(count(*) OVER (PARTITION BY case_id, person, role, from_at_s) AS VARCHAR) || ' times'
        AS found
FROM case_people
WHERE case_id IS NOT NULL AND person IS NOT NULL AND role IS NOT NULL
