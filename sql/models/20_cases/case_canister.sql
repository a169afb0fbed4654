-- case_canister: the state of the scavenging canister each case began on.
--
-- Grain   one row a case with an inhalant on a known machine
-- Reads   machine_clock, stg_equipment, seed_windows
-- Units   gain_g g; cycle_hours_at_start h
-- Source  gain and hours allowed are rows of seed_windows
--
-- Rules
--   Judged at the start, where the canister has been changed before or at that moment. Gain is the last weight
--   in g up to the start less the first at or after the change; without weights the hours decide alone.

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
        cases_on.case_id,
        stg_equipment.val,
        row_number() OVER (
            PARTITION BY cases_on.case_id
            ORDER BY stg_equipment.done_s, stg_equipment.source_file, stg_equipment.source_row
        ) AS from_first,
        row_number() OVER (
            PARTITION BY cases_on.case_id
            ORDER BY stg_equipment.done_s DESC, stg_equipment.source_file DESC, stg_equipment.source_row DESC
        ) AS from_last
    FROM cases_on
    INNER JOIN stg_equipment
        ON stg_equipment.machine_id = cases_on.machine_id
        AND stg_equipment.done_s >= cases_on.changed_s
        AND stg_equipment.done_s <= cases_on.from_s
    WHERE stg_equipment.item = 'scavenging_canister'
        AND stg_equipment.val_unit = 'g'
        AND stg_equipment.val IS NOT NULL
),

gains AS (
    SELECT
        case_id,
        max(CASE WHEN from_last = 1 THEN val END) - max(CASE WHEN from_first = 1 THEN val END) AS gain_g
    FROM weights
    GROUP BY case_id
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
