-- trainee_counts: how many cases and minutes each trainee has, by role and by what kind of case.
--
-- Grain   one row per person, by_column, level and role; level or role NULL is not recorded
-- Reads   trainee_levels
-- Units   cases: cases; minutes: minutes over the cases whose time is known; unknown_minutes: cases whose time is not
-- Source  the project's own rule
--
-- Rules
--   A case counts once in each role a person had in it.
SELECT
    levels.person,
    levels.by_column,
    levels.level,
    levels.role,
    count(*) AS cases,
    sum(levels.minutes) AS minutes,
    count(*) - count(levels.minutes) AS unknown_minutes
FROM trainee_levels AS levels
GROUP BY levels.person, levels.by_column, levels.level, levels.role
