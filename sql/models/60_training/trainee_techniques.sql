-- trainee_techniques: when each trainee first and last met a technique, and how often.
--
-- Grain   one row per person, technique and role; role NULL is not recorded
-- Reads   trainee_levels, trainee_log
-- Units   cases: cases; first_day, last_day: local days of the cases' starts
-- Source  the project's own rule
--
-- Rules
--   Cases with a start only. The record does not say who placed a block or a line: a technique is counted for
--   everybody with a part in the case, by role.
WITH met AS (
    SELECT levels.person, levels.level AS technique, levels.role, logged.start_day
    FROM trainee_levels AS levels
    INNER JOIN trainee_log AS logged
        ON logged.case_id = levels.case_id AND logged.person = levels.person
        AND coalesce(logged.role, '-') = coalesce(levels.role, '-')
    WHERE levels.by_column = 'technique'
)

SELECT
    met.person,
    met.technique,
    met.role,
    count(*) AS cases,
    min(met.start_day) AS first_day,
    max(met.start_day) AS last_day
FROM met
GROUP BY met.person, met.technique, met.role
