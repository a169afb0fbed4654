-- case_groups: every group that each case belongs to.
--
-- Grain   one row a case with a start, grouping column and level
-- Reads   case_windows, stg_cases, stg_case_techniques, seed_weight_bands
-- Units   none
-- Source  bands of weight are rows of seed_weight_bands
-- Built   by case
--
-- Rules
--   Unknown is the level 'not recorded'. A case counts once in each of its techniques.

WITH

known AS (
    SELECT
        case_windows.case_id,
        case_windows.month_no,
        coalesce(CAST(stg_cases.asa_class AS STRING), 'not recorded') AS asa_class,
        coalesce(stg_cases.species, 'not recorded') AS species,
        coalesce(stg_cases.site, 'not recorded') AS site,
        CASE WHEN stg_cases.emergency THEN 'yes' WHEN stg_cases.emergency IS NULL THEN 'not recorded' ELSE 'no' END
            AS emergency,
        coalesce(stg_cases.agent, 'not recorded') AS agent,
        coalesce(stg_cases.ventilation, 'not recorded') AS ventilation,
        coalesce(stg_cases.breathing_system, 'not recorded') AS breathing_system,
        coalesce(stg_cases.procedure_group, 'not recorded') AS procedure_group,
        coalesce(seed_weight_bands.band, 'not recorded') AS weight_band,
        coalesce(stg_cases.machine_id, 'not recorded') AS machine_id,
        coalesce(stg_cases.trainee, 'not recorded') AS trainee,
        coalesce(stg_cases.trainee_role, 'not recorded') AS trainee_role,
        coalesce(stg_cases.supervisor, 'not recorded') AS supervisor
    FROM case_windows
    INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
    LEFT JOIN seed_weight_bands
        ON stg_cases.weight_kg > seed_weight_bands.over_kg
        AND stg_cases.weight_kg <= seed_weight_bands.upto_kg
)

SELECT case_id, month_no, asa_class, 'all' AS by_column, 'all' AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'asa_class' AS by_column, asa_class AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'species' AS by_column, species AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'site' AS by_column, site AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'emergency' AS by_column, emergency AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'agent' AS by_column, agent AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'ventilation' AS by_column, ventilation AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'breathing_system' AS by_column, breathing_system AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'procedure_group' AS by_column, procedure_group AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'weight_band' AS by_column, weight_band AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'machine_id' AS by_column, machine_id AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'trainee' AS by_column, trainee AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'trainee_role' AS by_column, trainee_role AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'supervisor' AS by_column, supervisor AS level_text FROM known
UNION ALL
SELECT case_id, month_no, asa_class, 'asa_class x species' AS by_column, concat(asa_class, ' x ', species) AS level_text
FROM known
UNION ALL
SELECT
    known.case_id,
    known.month_no,
    known.asa_class,
    'technique' AS by_column,
    coalesce(stg_case_techniques.technique, 'not recorded') AS level_text
FROM known
LEFT JOIN stg_case_techniques ON stg_case_techniques.case_id = known.case_id
