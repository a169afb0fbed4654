-- equipment_marks_fit_hours: do the marks on an absorbent fit the hours it was breathed through?
--
-- Judges  every absorbent of a machine from one change to the next, where marks are charted and their time is known
-- Reads   equipment, check_cases, check_values
--
-- Rules
--   Hours are those of cases with a rebreathing system that began with this absorbent. A difference of marks_off
--   marks, or of marks_off_share of those expected, whichever is more, is let pass.

WITH

changes AS (
    SELECT
        machine_id,
        at_s AS from_s,
        lead(at_s) OVER (PARTITION BY machine_id ORDER BY at_s) AS to_s,
        source_file,
        source_row
    FROM equipment
    WHERE item = 'absorbent' AND action = 'changed'
),

marks AS (
    SELECT changes.machine_id, changes.from_s, count(equipment.at_s) AS marks
    FROM changes
    LEFT JOIN equipment
        ON equipment.machine_id = changes.machine_id
        AND equipment.item = 'absorbent'
        AND equipment.action = 'marked'
        AND equipment.at_s >= changes.from_s
        AND equipment.at_s < changes.to_s
    WHERE changes.to_s IS NOT NULL
    GROUP BY changes.machine_id, changes.from_s
),

hours AS (
    SELECT
        changes.machine_id,
        changes.from_s,
        min(changes.to_s) AS to_s,
        min(changes.source_file) AS source_file,
        min(changes.source_row) AS source_row,
        coalesce(sum(check_cases.end_s - check_cases.start_s), 0) / 60e0 AS minutes
    FROM changes
    LEFT JOIN check_cases
        ON check_cases.machine_id = changes.machine_id
        AND check_cases.breathing_system = 'rebreathing'
        AND check_cases.end_s > check_cases.start_s
        AND check_cases.start_s >= changes.from_s
        AND check_cases.start_s < changes.to_s
    WHERE changes.to_s IS NOT NULL
    GROUP BY changes.machine_id, changes.from_s
)

SELECT
    CASE
        WHEN abs(marks.marks - hours.minutes / check_values.absorbent_minutes_per_mark) > greatest(
            check_values.marks_off,
            check_values.marks_off_share * hours.minutes / check_values.absorbent_minutes_per_mark
        ) THEN 1
        ELSE 0
    END AS failed,
    hours.source_file,
    hours.source_row,
    CASE
        WHEN failed = 1 THEN hours.machine_id || ', ' || CAST(marks.marks AS VARCHAR) || ' marks for '
            || CAST(CAST(floor(hours.minutes + 0.5e0) AS BIGINT) AS VARCHAR) || ' min of use'
    END AS found
FROM hours
INNER JOIN marks ON marks.machine_id = hours.machine_id AND marks.from_s = hours.from_s
CROSS JOIN check_values
WHERE check_values.absorbent_minutes_per_mark IS NOT NULL
    AND (SELECT count(*) FROM equipment WHERE item = 'absorbent' AND action = 'marked') > 0
