-- trainee_levels: the log in long form, so that one count serves every column.
--
-- Grain   one row per case, person, role, by_column and level; level NULL is not recorded
-- Reads   trainee_log, part_minutes, stg_case_techniques
-- Units   minutes: of the part; for supervisor, of the part under that person
-- Source  the project's own rule
--
-- Rules
--   Cases with a start only. A case stands once in each of its techniques and under each of its supervisors.
WITH counted AS (
    SELECT
        logged.case_id, logged.person, logged.role, logged.minutes, logged.species, logged.asa_class,
        logged.emergency, logged.procedure_group, logged.ventilation, logged.agent, logged.supervised
    FROM trainee_log AS logged
    WHERE logged.counted = 1
)

SELECT counted.case_id, counted.person, counted.role, 'all' AS by_column, 'all' AS level, counted.minutes
FROM counted
UNION ALL
SELECT counted.case_id, counted.person, counted.role, 'species' AS by_column, counted.species AS level, counted.minutes
FROM counted
UNION ALL
SELECT counted.case_id, counted.person, counted.role, 'asa_class' AS by_column,
    CASE counted.asa_class WHEN 1 THEN '1' WHEN 2 THEN '2' WHEN 3 THEN '3' WHEN 4 THEN '4' WHEN 5 THEN '5' END AS level,
    counted.minutes
FROM counted
UNION ALL
SELECT counted.case_id, counted.person, counted.role, 'emergency' AS by_column,
    CASE WHEN counted.emergency THEN 'yes' WHEN NOT counted.emergency THEN 'no' END AS level, counted.minutes
FROM counted
UNION ALL
SELECT counted.case_id, counted.person, counted.role, 'procedure_group' AS by_column,
    counted.procedure_group AS level, counted.minutes
FROM counted
UNION ALL
SELECT counted.case_id, counted.person, counted.role, 'ventilation' AS by_column,
    counted.ventilation AS level, counted.minutes
FROM counted
UNION ALL
SELECT counted.case_id, counted.person, counted.role, 'agent' AS by_column, counted.agent AS level, counted.minutes
FROM counted
UNION ALL
SELECT counted.case_id, counted.person, counted.role, 'supervised' AS by_column,
    CASE counted.supervised WHEN 1 THEN 'yes' WHEN 0 THEN 'no' END AS level, counted.minutes
FROM counted
WHERE counted.role IS NULL OR counted.role <> 'supervising'
UNION ALL
SELECT counted.case_id, counted.person, counted.role, 'technique' AS by_column,
    techniques.technique AS level, counted.minutes
FROM counted
INNER JOIN stg_case_techniques AS techniques ON techniques.case_id = counted.case_id
UNION ALL
SELECT counted.case_id, counted.person, counted.role, 'supervisor' AS by_column,
    shared.supervisor AS level, shared.minutes
FROM counted
INNER JOIN part_minutes AS shared
    ON shared.case_id = counted.case_id AND shared.person = counted.person AND shared.span = 'supervisor'
    AND coalesce(shared.role, '-') = coalesce(counted.role, '-')
