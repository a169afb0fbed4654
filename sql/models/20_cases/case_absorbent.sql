-- case_absorbent: the state of the absorbent each case began on.
--
-- Grain   one row a case that uses absorbent on a known machine
-- Reads   machine_clock, case_windows, seed_windows
-- Units   hours h; age_days d
-- Source  hours and age allowed are rows of seed_windows
--
-- Rules
--   Judged at the start, where the machine has been changed before or at that moment. Overdue past the hours
--   or past the age. use_hours are the case's own hours after the machine's first change.

WITH

numbers AS (
    SELECT
        max(CASE WHEN name = 'absorbent_max_hours' THEN val END) AS max_hours,
        max(CASE WHEN name = 'absorbent_max_days' THEN val END) AS max_days
    FROM seed_windows
),

cases_on AS (
    SELECT
        machine_clock.machine_id,
        machine_clock.case_id,
        machine_clock.from_s,
        machine_clock.changed_s,
        machine_clock.used_before_s - changes.used_before_s AS cycle_used_s,
        CASE
            WHEN case_windows.window_s IS NULL OR machine_clock.first_change_s IS NULL THEN NULL
            WHEN machine_clock.own_from_s >= machine_clock.first_change_s THEN machine_clock.own_s
            WHEN machine_clock.to_s > machine_clock.first_change_s
                THEN machine_clock.to_s - machine_clock.first_change_s
        END AS known_s
    FROM machine_clock
    INNER JOIN case_windows ON case_windows.case_id = machine_clock.case_id
    LEFT JOIN machine_clock AS changes
        ON changes.item = machine_clock.item
        AND changes.machine_id = machine_clock.machine_id
        AND changes.is_change = 1
        AND changes.from_s = machine_clock.changed_s
    WHERE machine_clock.item = 'absorbent'
        AND machine_clock.is_change = 0
)

SELECT
    cases_on.case_id,
    cases_on.machine_id,
    cases_on.changed_s,
    cases_on.known_s / 3600e0 AS use_hours,
    cases_on.cycle_used_s / 3600e0 AS cycle_hours_at_start,
    (cases_on.from_s - cases_on.changed_s) / 86400e0 AS age_days_at_start,
    CASE WHEN cases_on.changed_s IS NULL THEN 0 ELSE 1 END AS assessable,
    CASE
        WHEN cases_on.changed_s IS NULL THEN NULL
        WHEN cases_on.cycle_used_s > numbers.max_hours * 3600e0 THEN 1
        WHEN cases_on.from_s - cases_on.changed_s > numbers.max_days * 86400e0 THEN 1
        ELSE 0
    END AS overdue
FROM cases_on
CROSS JOIN numbers
