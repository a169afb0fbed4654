-- parameter_holds: how long a valid reading under anesthesia stands, of the readings that tell something.
--
-- Grain   one row a valid reading from start to end, of a parameter that has a limit, that begins or ends a stretch
--         or may be past a limit of the species
-- Reads   vital_readings, case_windows, case_numbers, stg_cases, seed_limits, seed_windows
-- Units   taken_s seconds of UTC since 1970; hold_s seconds; val in the parameter's own unit
-- Source  the longest hold is a row of seed_windows
-- Built   by case
--
-- Rules
--   A reading stands until the next one, the longest hold or the end, whichever is first; at end it holds 0.
--   Nothing is carried in from before start. Time past the longest hold is unobserved and breaks a stretch.
--   reading_no and stretch_no count all valid readings of the case and parameter, so that those between two rows
--   are known to be there, to be past no limit and to hold until the next.

WITH

numbers AS (
    SELECT CAST(floor(60e0 * max(CASE WHEN name = 'hold_max_min' THEN val END)) AS BIGINT) AS hold_max_s
    FROM seed_windows
),

limited AS (
    SELECT parameter, row_number() OVER (ORDER BY parameter) AS parameter_no
    FROM seed_limits
    GROUP BY parameter
),

unsuspicious AS (
    SELECT
        species,
        parameter,
        max(least(below, at_most)) AS over,
        min(CASE WHEN below IS NULL AND at_most IS NULL THEN above END) AS upto
    FROM seed_limits
    GROUP BY species, parameter
),

animals AS (
    SELECT
        case_numbers.case_no,
        case_windows.case_id,
        case_windows.start_s,
        case_windows.end_s,
        stg_cases.species
    FROM case_windows
    INNER JOIN case_numbers ON case_numbers.case_id = case_windows.case_id
    INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
    WHERE case_windows.window_s IS NOT NULL
),

readings AS (
    SELECT
        animals.case_no,
        limited.parameter_no,
        vital_readings.taken_s,
        vital_readings.val,
        CASE WHEN vital_readings.val <= unsuspicious.over OR vital_readings.val > unsuspicious.upto THEN 1 ELSE 0 END
            AS may_be_past
    FROM vital_readings
    INNER JOIN limited ON limited.parameter = vital_readings.parameter
    INNER JOIN animals
        ON animals.case_id = vital_readings.case_id
        AND vital_readings.taken_s >= animals.start_s
        AND vital_readings.taken_s <= animals.end_s
    LEFT JOIN unsuspicious
        ON unsuspicious.species = animals.species
        AND unsuspicious.parameter = vital_readings.parameter
    WHERE vital_readings.reason IS NULL
),

in_order AS (
    SELECT
        case_no,
        parameter_no,
        taken_s,
        val,
        may_be_past,
        lead(taken_s) OVER (PARTITION BY case_no, parameter_no ORDER BY taken_s, val) AS next_s,
        lag(taken_s) OVER (PARTITION BY case_no, parameter_no ORDER BY taken_s, val) AS previous_s,
        row_number() OVER (PARTITION BY case_no, parameter_no ORDER BY taken_s, val) AS reading_no
    FROM readings
),

telling AS (
    SELECT
        in_order.case_no,
        in_order.parameter_no,
        in_order.reading_no,
        in_order.taken_s,
        in_order.val,
        in_order.next_s,
        numbers.hold_max_s,
        count(CASE WHEN in_order.taken_s - in_order.previous_s <= numbers.hold_max_s THEN NULL ELSE 1 END) OVER (
            PARTITION BY in_order.case_no, in_order.parameter_no
            ORDER BY in_order.reading_no
            ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS stretch_no
    FROM in_order
    CROSS JOIN numbers
    WHERE in_order.may_be_past = 1
        OR in_order.previous_s IS NULL
        OR in_order.next_s IS NULL
        OR in_order.taken_s - in_order.previous_s > numbers.hold_max_s
        OR in_order.next_s - in_order.taken_s > numbers.hold_max_s
)

SELECT
    animals.case_id,
    limited.parameter,
    telling.reading_no,
    telling.taken_s,
    telling.val,
    least(telling.next_s - telling.taken_s, animals.end_s - telling.taken_s, telling.hold_max_s) AS hold_s,
    telling.stretch_no
FROM telling
INNER JOIN animals ON animals.case_no = telling.case_no
INNER JOIN limited ON limited.parameter_no = telling.parameter_no
