-- stg_case_techniques: the list of techniques of a case, one word a row.
--
-- Grain   one row a technique of a case, each once
-- Reads   cases, seed_list_positions
-- Units   none
-- Source  none

SELECT DISTINCT
    cases.case_id,
    trim(split_part(cases.techniques, ';', CAST(seed_list_positions.position AS INTEGER))) AS technique
FROM cases
INNER JOIN seed_list_positions
    ON trim(split_part(cases.techniques, ';', CAST(seed_list_positions.position AS INTEGER))) <> ''
