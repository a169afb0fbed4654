-- case_parts: who had which part in a case, and from when to when, inside the anesthesia window.
--
-- Grain   one row per case, person, role and stretch; equal stretches stand once
-- Reads   case_windows, stg_case_people, stg_cases
-- Units   from_s, to_s seconds UTC; NULL where the stretch cannot be placed
-- Source  roles as charted; the rules below are the project's own
--
-- Rules
--   case_people speaks first. Where it has nobody working in a case (primary, assisting, observing), the trainee
--   and anesthetist of cases stand for the whole case; where it has nobody supervising, the supervisor of cases does.
--   The anesthetist is primary; beside a trainee who is primary, assisting. One person in both columns is one person,
--   with the trainee's role, or primary where that is not charted. A trainee without a role keeps role NULL.
--   A part without from_at began with the case, without to_at it lasted to the end.
--   Parts are cut to the window; one that lies outside it stays, with no time. No end, or from after to: not placed.
WITH charted AS (
    SELECT
        people.case_id,
        sum(CASE WHEN people.role = 'supervising' THEN 1 ELSE 0 END) AS n_supervising,
        sum(CASE WHEN people.role <> 'supervising' THEN 1 ELSE 0 END) AS n_working
    FROM stg_case_people AS people
    GROUP BY people.case_id
),

parts AS (
    SELECT people.case_id, people.person, people.role, people.from_s, people.to_s
    FROM stg_case_people AS people
    UNION ALL
    SELECT
        cases.case_id,
        cases.trainee AS person,
        CASE WHEN cases.trainee_role IS NULL AND cases.anesthetist = cases.trainee THEN 'primary'
             ELSE cases.trainee_role END AS role,
        CAST(NULL AS BIGINT) AS from_s,
        CAST(NULL AS BIGINT) AS to_s
    FROM stg_cases AS cases
    LEFT JOIN charted ON charted.case_id = cases.case_id
    WHERE cases.trainee IS NOT NULL AND coalesce(charted.n_working, 0) = 0
    UNION ALL
    SELECT
        cases.case_id,
        cases.anesthetist AS person,
        CASE WHEN cases.trainee IS NOT NULL AND cases.trainee_role = 'primary' THEN 'assisting'
             ELSE 'primary' END AS role,
        CAST(NULL AS BIGINT) AS from_s,
        CAST(NULL AS BIGINT) AS to_s
    FROM stg_cases AS cases
    LEFT JOIN charted ON charted.case_id = cases.case_id
    WHERE cases.anesthetist IS NOT NULL AND coalesce(charted.n_working, 0) = 0
        AND (cases.trainee IS NULL OR cases.trainee <> cases.anesthetist)
    UNION ALL
    SELECT
        cases.case_id,
        cases.supervisor AS person,
        'supervising' AS role,
        CAST(NULL AS BIGINT) AS from_s,
        CAST(NULL AS BIGINT) AS to_s
    FROM stg_cases AS cases
    LEFT JOIN charted ON charted.case_id = cases.case_id
    WHERE cases.supervisor IS NOT NULL AND coalesce(charted.n_supervising, 0) = 0
),

placed AS (
    SELECT
        parts.case_id,
        parts.person,
        parts.role,
        CASE WHEN windows.end_s > windows.start_s THEN windows.start_s END AS start_s,
        CASE WHEN windows.end_s > windows.start_s THEN windows.end_s END AS end_s,
        coalesce(parts.from_s, windows.start_s) AS from_s,
        coalesce(parts.to_s, windows.end_s) AS to_s
    FROM parts
    LEFT JOIN case_windows AS windows ON windows.case_id = parts.case_id
)

SELECT DISTINCT
    placed.case_id,
    placed.person,
    placed.role,
    CASE
        WHEN placed.start_s IS NULL OR placed.from_s > placed.to_s THEN NULL
        WHEN placed.from_s < placed.start_s THEN placed.start_s
        WHEN placed.from_s > placed.end_s THEN placed.end_s
        ELSE placed.from_s
    END AS from_s,
    CASE
        WHEN placed.start_s IS NULL OR placed.from_s > placed.to_s THEN NULL
        WHEN placed.to_s < placed.start_s THEN placed.start_s
        WHEN placed.to_s > placed.end_s THEN placed.end_s
        ELSE placed.to_s
    END AS to_s
FROM placed
