-- mix_counts: cases and events of each month by ASA class, species and emergency, for observed against expected.
--
-- Grain   one row a measure, grouping column, level, month, ASA class, species and emergency with an assessable case
-- Reads   case_shares, case_groups, stg_cases
-- Units   cases; month_no year x 12 + month - 1
-- Source  none
-- Built   by month

SELECT
    case_shares.measure,
    case_groups.by_column,
    case_groups.level_text,
    case_groups.month_no,
    case_groups.asa_class,
    coalesce(stg_cases.species, 'not recorded') AS species,
    CASE WHEN stg_cases.emergency THEN 'yes' WHEN stg_cases.emergency IS NULL THEN 'not recorded' ELSE 'no' END
        AS emergency,
    count(*) AS cases,
    CAST(sum(case_shares.has) AS BIGINT) AS events
FROM case_shares
INNER JOIN case_groups ON case_groups.case_id = case_shares.case_id
INNER JOIN stg_cases ON stg_cases.case_id = case_shares.case_id
WHERE case_shares.assessable = 1
    AND case_shares.measure IN ('complication', 'death_48h', 'hypothermia', 'hypoventilation', 'hypotension')
    AND case_groups.by_column IN ('all', 'site', 'procedure_group')
GROUP BY
    case_shares.measure, case_groups.by_column, case_groups.level_text, case_groups.month_no, case_groups.asa_class,
    coalesce(stg_cases.species, 'not recorded'),
    CASE WHEN stg_cases.emergency THEN 'yes' WHEN stg_cases.emergency IS NULL THEN 'not recorded' ELSE 'no' END
