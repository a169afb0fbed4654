-- part_minutes: how long somebody was in a case, in four ways of adding up.
--
-- Grain   one row per case, person, span, role and supervisor
-- Reads   case_parts, supervision_overlaps
-- Units   minutes of the anesthesia window; NULL where a stretch could not be placed
-- Source  the project's own rule
--
-- Rules
--   span part: one role (role NULL: not charted). case: all roles of the person together.
--   supervised: the part of a role under anybody's supervision. supervisor: under that person's.
--   Overlapping and equal stretches count once: each adds only what lies after the latest end of those before it.
--       primary 09:00 to 10:00 and 09:30 to 11:00: 60 + 60 = 120 minutes, not 150
--       primary 09:00 to 10:00, observing 09:30 to 11:00: 60 and 90 by role, 120 in the case
WITH stretches AS (
    SELECT
        parts.case_id, parts.person, 'part' AS span, parts.role, CAST(NULL AS STRING) AS supervisor,
        parts.from_s, parts.to_s
    FROM case_parts AS parts
    UNION ALL
    SELECT
        parts.case_id, parts.person, 'case' AS span, CAST(NULL AS STRING) AS role,
        CAST(NULL AS STRING) AS supervisor, parts.from_s, parts.to_s
    FROM case_parts AS parts
    UNION ALL
    SELECT
        shared.case_id, shared.person, 'supervised' AS span, shared.role, CAST(NULL AS STRING) AS supervisor,
        shared.from_s, shared.to_s
    FROM supervision_overlaps AS shared
    UNION ALL
    SELECT
        shared.case_id, shared.person, 'supervisor' AS span, shared.role, shared.supervisor,
        shared.from_s, shared.to_s
    FROM supervision_overlaps AS shared
),

ordered AS (
    SELECT
        stretches.case_id,
        stretches.person,
        stretches.span,
        stretches.role,
        stretches.supervisor,
        stretches.from_s,
        stretches.to_s,
        max(stretches.to_s) OVER (
            PARTITION BY stretches.case_id, stretches.person, stretches.span, stretches.role, stretches.supervisor
            ORDER BY stretches.from_s, stretches.to_s
            ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) AS covered_to_s
    FROM stretches
),

added AS (
    SELECT
        ordered.case_id,
        ordered.person,
        ordered.span,
        ordered.role,
        ordered.supervisor,
        CASE
            WHEN ordered.from_s IS NULL THEN NULL
            WHEN ordered.covered_to_s IS NULL OR ordered.covered_to_s <= ordered.from_s
                THEN ordered.to_s - ordered.from_s
            WHEN ordered.covered_to_s >= ordered.to_s THEN 0
            ELSE ordered.to_s - ordered.covered_to_s
        END AS added_s
    FROM ordered
)

SELECT
    added.case_id,
    added.person,
    added.span,
    added.role,
    added.supervisor,
    CASE WHEN count(added.added_s) = count(*) THEN sum(added.added_s) / 60e0 END AS minutes
FROM added
GROUP BY added.case_id, added.person, added.span, added.role, added.supervisor
