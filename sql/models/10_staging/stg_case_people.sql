-- stg_case_people: who had which part in a case, as charted.
--
-- Grain   one row a person's part in a case
-- Reads   case_people, set_aside_rows
-- Units   *_s seconds of UTC since 1970
-- Source  none

SELECT
    case_people.case_id,
    case_people.person,
    case_people.role,
    case_people.from_at_s AS from_s,
    case_people.to_at_s AS to_s,
    case_people.source_file,
    case_people.source_row
FROM case_people
LEFT JOIN set_aside_rows
    ON set_aside_rows.table_name = 'case_people'
    AND set_aside_rows.source_file = case_people.source_file
    AND set_aside_rows.source_row = case_people.source_row
WHERE set_aside_rows.rule_id IS NULL
