-- trainee_discussion: cases worth talking over with a person, and the rule that chose each.
--
-- Grain   one row per case, person and reason
-- Reads   trainee_log, trainee_levels, trainee_events
-- Units   none
-- Source  the project's own rules; none of them says that something was done wrong
--
-- Rules
--   severe_event      a charted event was severe, or was cardiac_arrest or death, while the person had a part
--   high_risk         ASA class 4 or 5
--   first_technique   the first case in which the person, as primary, met that technique (level: the technique)
--   first_species     the first case of a species as primary (level: the species)
--   Cases with a start; parts as primary or assisting.
WITH working AS (
    SELECT logged.case_id, logged.person, logged.role, logged.start_day, logged.start_s, logged.asa_class
    FROM trainee_log AS logged
    WHERE logged.counted = 1 AND logged.role IN ('primary', 'assisting')
),

firsts AS (
    SELECT
        working.case_id,
        working.person,
        levels.by_column,
        levels.level,
        working.start_day,
        row_number() OVER (
            PARTITION BY working.person, levels.by_column, levels.level
            ORDER BY working.start_s, working.case_id
            ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS nth
    FROM working
    INNER JOIN trainee_levels AS levels
        ON levels.case_id = working.case_id AND levels.person = working.person AND levels.role = working.role
    WHERE working.role = 'primary' AND levels.by_column IN ('technique', 'species') AND levels.level IS NOT NULL
)

SELECT DISTINCT
    working.case_id, working.person, 'severe_event' AS reason, events.event AS level, working.start_day
FROM working
INNER JOIN trainee_events AS events
    ON events.case_id = working.case_id AND events.person = working.person AND events.role = working.role
WHERE events.worst = 3 OR events.event IN ('cardiac_arrest', 'death')
UNION ALL
SELECT DISTINCT
    working.case_id, working.person, 'high_risk' AS reason,
    CASE working.asa_class WHEN 4 THEN '4' WHEN 5 THEN '5' END AS level, working.start_day
FROM working
WHERE working.asa_class >= 4
UNION ALL
SELECT
    firsts.case_id, firsts.person,
    CASE firsts.by_column WHEN 'technique' THEN 'first_technique' ELSE 'first_species' END AS reason,
    firsts.level, firsts.start_day
FROM firsts
WHERE firsts.nth = 1
