-- machine_cycles: each charge of absorbent and each canister, from its change to the next.
--
-- Grain   one row a machine, item and moment it was changed
-- Reads   machine_clock, stg_equipment
-- Units   from_s, to_s seconds of UTC since 1970 (to_s NULL: still in use); used_s seconds; grams g
-- Source  none
--
-- Rules
--   used_s is the time the machine served from this change to the next, overlapping cases once.
--   grams is the charge, where the change states a value in g. end_month_no is the month of the next change.

WITH

changes AS (
    SELECT
        item,
        machine_id,
        from_s,
        used_before_s,
        lead(from_s) OVER (PARTITION BY item, machine_id ORDER BY from_s) AS to_s,
        lead(used_before_s) OVER (PARTITION BY item, machine_id ORDER BY from_s) AS used_at_next_s
    FROM machine_clock
    WHERE is_change = 1
),

served AS (
    SELECT item, machine_id, CAST(sum(own_s) AS BIGINT) AS used_in_all_s
    FROM machine_clock
    GROUP BY item, machine_id
),

charges AS (
    SELECT
        item,
        machine_id,
        done_s,
        max(CASE WHEN val_unit = 'g' THEN val END) AS grams,
        max(month_no) AS month_no
    FROM stg_equipment
    WHERE action = 'changed'
    GROUP BY item, machine_id, done_s
)

SELECT
    changes.item,
    changes.machine_id,
    row_number() OVER (PARTITION BY changes.item, changes.machine_id ORDER BY changes.from_s) AS cycle_no,
    changes.from_s,
    changes.to_s,
    coalesce(changes.used_at_next_s, served.used_in_all_s) - changes.used_before_s AS used_s,
    charges.grams,
    charges.month_no AS begin_month_no,
    next_charges.month_no AS end_month_no
FROM changes
INNER JOIN served ON served.item = changes.item AND served.machine_id = changes.machine_id
INNER JOIN charges
    ON charges.item = changes.item
    AND charges.machine_id = changes.machine_id
    AND charges.done_s = changes.from_s
LEFT JOIN charges AS next_charges
    ON next_charges.item = changes.item
    AND next_charges.machine_id = changes.machine_id
    AND next_charges.done_s = changes.to_s
