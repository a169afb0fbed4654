-- case_canister: the state of the scavenging canister each case began on.
--
-- Grain   one row a case with an inhalant on a known machine
-- Reads   machine_clock, stg_equipment, seed_windows
-- Units   gain_g g; cycle_hours_at_start h
-- Source  gain and hours allowed are rows of seed_windows
--
-- Rules
--   Judged at the start, where the canister has been changed before or at that moment. Gain is the last weight
--   in g up to the start less the first at or after the change; without weights the hours decide alone. Weights
--   are numbered by machine: the last up to a moment is the highest number there (weighed).

WITH

numbers AS (
    SELECT
        max(CASE WHEN name = 'canister_gain_g' THEN val END) AS max_gain_g,
        max(CASE WHEN name = 'canister_max_hours' THEN val END) AS max_hours
    FROM seed_windows
),

cases_on AS (
    SELECT
        machine_clock.machine_id,
        machine_clock.case_id,
        machine_clock.from_s,
        machine_clock.changed_s,
        machine_clock.used_before_s - changes.used_before_s AS cycle_used_s
    FROM machine_clock
    LEFT JOIN machine_clock AS changes
        ON changes.item = machine_clock.item
        AND changes.machine_id = machine_clock.machine_id
        AND changes.is_change = 1
        AND changes.from_s = machine_clock.changed_s
    WHERE machine_clock.item = 'scavenging_canister'
        AND machine_clock.is_change = 0
),

weights AS (
    SELECT
        machine_id,
        done_s,
        val,
        row_number() OVER (PARTITION BY machine_id ORDER BY done_s, source_file, source_row) AS weight_no
    FROM stg_equipment
    WHERE item = 'scavenging_canister'
        AND val_unit = 'g'
        AND val IS NOT NULL
),

moments AS (
    SELECT DISTINCT machine_id, changed_s AS at_s, '' AS case_id, 0 AS weight_no, 0 AS place
    FROM cases_on
    WHERE changed_s IS NOT NULL
    UNION ALL
    SELECT machine_id, done_s AS at_s, '' AS case_id, weight_no, 1 AS place
    FROM weights
    UNION ALL
    SELECT machine_id, from_s AS at_s, case_id, 0 AS weight_no, 2 AS place
    FROM cases_on
),

weighed AS (
    SELECT
        machine_id,
        at_s,
        case_id,
        place,
        max(weight_no) OVER (
            PARTITION BY machine_id
            ORDER BY at_s, place, weight_no, case_id
            ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS last_no
    FROM moments
),

gains AS (
    SELECT cases_on.case_id, last_weights.val - first_weights.val AS gain_g
    FROM cases_on
    INNER JOIN weighed AS begun ON begun.case_id = cases_on.case_id AND begun.place = 2
    INNER JOIN weighed AS changed
        ON changed.machine_id = cases_on.machine_id
        AND changed.at_s = cases_on.changed_s
        AND changed.place = 0
    INNER JOIN weights AS first_weights
        ON first_weights.machine_id = cases_on.machine_id
        AND first_weights.weight_no = changed.last_no + 1
    INNER JOIN weights AS last_weights
        ON last_weights.machine_id = cases_on.machine_id
        AND last_weights.weight_no = begun.last_no
    WHERE begun.last_no > changed.last_no
)

SELECT
    cases_on.case_id,
    cases_on.machine_id,
    cases_on.changed_s,
    gains.gain_g,
    cases_on.cycle_used_s / 3600e0 AS cycle_hours_at_start,
    CASE WHEN cases_on.changed_s IS NULL THEN 0 ELSE 1 END AS assessable,
    CASE
        WHEN cases_on.changed_s IS NULL THEN NULL
        WHEN gains.gain_g >= numbers.max_gain_g THEN 1
        WHEN cases_on.cycle_used_s > numbers.max_hours * 3600e0 THEN 1
        ELSE 0
    END AS overdue
FROM cases_on
CROSS JOIN numbers
LEFT JOIN gains ON gains.case_id = cases_on.case_id
