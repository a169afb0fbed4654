-- trainees: whose logs we keep.
--
-- Grain   one row per person
-- Reads   programme_trainees, stg_cases
-- Units   start_day, leaves_day: days of training; year_at_start: the year of training that began on start_day
-- Source  [programme] of clinic.toml, and the trainee column of cases
--
-- Rules
--   Everybody the programme lists, and everybody a case names as its trainee. Only the first have targets.
WITH named AS (
    SELECT programme_trainees.person FROM programme_trainees
    UNION
    SELECT cases.trainee AS person FROM stg_cases AS cases WHERE cases.trainee IS NOT NULL
)

SELECT
    named.person,
    CASE WHEN listed.person IS NULL THEN 0 ELSE 1 END AS listed,
    listed.start_day,
    listed.year_at_start,
    listed.leaves_day
FROM named
LEFT JOIN programme_trainees AS listed ON listed.person = named.person
