-- trainee_log: the case log of the trainees.
--
-- Grain   one row per case, person and role
-- Reads   part_log, trainees
-- Units   minutes, case_minutes, supervised_minutes: minutes of the anesthesia window
-- Source  the project's own rule
--
-- Rules
--   As in part_log, whose rows these are.
SELECT
    logged.case_id,
    logged.person,
    logged.role,
    logged.counted,
    logged.first_role,
    logged.start_s,
    logged.start_day,
    logged.month_no,
    logged.site,
    logged.species,
    logged.asa_class,
    logged.emergency,
    logged.procedure_group,
    logged.procedure,
    logged.agent,
    logged.ventilation,
    logged.airway,
    logged.minutes,
    logged.case_minutes,
    logged.supervised,
    logged.supervised_minutes
FROM part_log AS logged
INNER JOIN trainees ON trainees.person = logged.person
