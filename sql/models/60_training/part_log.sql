-- part_log: the case log; what each person did in each case, with what the log needs to know of the case.
--
-- Grain   one row per case, person and role
-- Reads   case_windows, part_minutes, stg_cases
-- Units   minutes, case_minutes, supervised_minutes: minutes of the anesthesia window
-- Source  the project's own rule
--
-- Rules
--   counted is 1 where the case has a start; a case without one is listed and in no count.
--   first_role marks one of a person's rows in a case, so that cases and case_minutes can be added up once.
--   supervised is 1 where somebody else supervised while the part ran, or where that cannot be told from the times.
--   supervised_minutes is NULL where the times cannot tell, 0 where nobody supervised. Supervisors have no supervisor.
WITH supervision AS (
    SELECT minutes.case_id, minutes.person, minutes.role, minutes.minutes AS supervised_minutes
    FROM part_minutes AS minutes
    WHERE minutes.span = 'supervised'
),

together AS (
    SELECT minutes.case_id, minutes.person, minutes.minutes AS case_minutes
    FROM part_minutes AS minutes
    WHERE minutes.span = 'case'
),

parts AS (
    SELECT
        minutes.case_id,
        minutes.person,
        minutes.role,
        minutes.minutes,
        row_number() OVER (
            PARTITION BY minutes.case_id, minutes.person
            ORDER BY CASE minutes.role WHEN 'primary' THEN 1 WHEN 'assisting' THEN 2 WHEN 'observing' THEN 3
                     WHEN 'supervising' THEN 4 ELSE 5 END
            ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS role_no
    FROM part_minutes AS minutes
    WHERE minutes.span = 'part'
)

SELECT
    parts.case_id,
    parts.person,
    parts.role,
    CASE WHEN windows.start_s IS NOT NULL THEN 1 ELSE 0 END AS counted,
    CASE WHEN parts.role_no = 1 THEN 1 ELSE 0 END AS first_role,
    windows.start_s,
    windows.start_day,
    windows.month_no,
    cases.site,
    cases.species,
    cases.asa_class,
    cases.emergency,
    cases.procedure_group,
    cases.procedure,
    cases.agent,
    cases.ventilation,
    cases.airway,
    parts.minutes,
    together.case_minutes,
    CASE WHEN parts.role = 'supervising' THEN NULL
         WHEN supervision.case_id IS NOT NULL THEN 1 ELSE 0 END AS supervised,
    CASE WHEN parts.role = 'supervising' THEN NULL
         WHEN supervision.case_id IS NULL THEN 0e0 ELSE supervision.supervised_minutes END AS supervised_minutes
FROM parts
INNER JOIN stg_cases AS cases ON cases.case_id = parts.case_id
LEFT JOIN case_windows AS windows ON windows.case_id = parts.case_id
LEFT JOIN together ON together.case_id = parts.case_id AND together.person = parts.person
LEFT JOIN supervision
    ON supervision.case_id = parts.case_id AND supervision.person = parts.person
    AND coalesce(supervision.role, '-') = coalesce(parts.role, '-')
