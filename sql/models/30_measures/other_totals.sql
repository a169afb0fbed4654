-- other_totals: what machines and the store add to totals, one row a thing counted (change, mark, cycle, movement).
--
-- Grain   one row a thing counted, measure, grouping column and level
-- Reads   stg_stock, seed_items, case_windows, stg_equipment, machine_cycles, seed_windows, seed_stock_units
-- Units   amount in the measure's unit, NULL where unknown; month_no year x 12 + month - 1
-- Source  minutes a mark stands for are a row of seed_windows; spellings of units are rows of seed_stock_units
-- Built   as a view
--
-- Rules
--   Marks expected of a cycle go to the month it ends, of an open one to the last month with a case. Packs opened
--   of a drug: as charted in packs, else mL (mg by the item's concentration) over the mL of a pack; in another
--   unit, or none, unknown.

WITH

numbers AS (
    SELECT max(CASE WHEN name = 'absorbent_minutes_per_mark' THEN val END) AS minutes_per_mark
    FROM seed_windows
),

last_month AS (
    SELECT max(month_no) AS month_no
    FROM case_windows
)

SELECT 'drug_packs_opened' AS measure, 'drug' AS by_column, seed_items.drug AS level_text, stg_stock.month_no,
    CASE
        WHEN seed_stock_units.family = 'pack' THEN stg_stock.quantity
        WHEN seed_stock_units.family = 'mL' THEN stg_stock.quantity / nullif(seed_items.pack_ml, 0e0)
        WHEN seed_stock_units.family = 'L' THEN stg_stock.quantity * 1000e0 / nullif(seed_items.pack_ml, 0e0)
        WHEN seed_stock_units.family = 'mg'
            THEN stg_stock.quantity * seed_stock_units.factor
                / nullif(seed_items.concentration_mg_ml * seed_items.pack_ml, 0e0)
    END AS amount
FROM stg_stock
INNER JOIN seed_items ON seed_items.item = stg_stock.item
LEFT JOIN seed_stock_units ON seed_stock_units.spelling = lower(stg_stock.quantity_unit)
WHERE stg_stock.movement = 'opened' AND seed_items.drug IS NOT NULL
UNION ALL
SELECT 'absorbent_changes' AS measure, 'machine_id' AS by_column, machine_id AS level_text, month_no, 1e0 AS amount
FROM stg_equipment
WHERE item = 'absorbent' AND action = 'changed'
UNION ALL
SELECT 'absorbent_marks' AS measure, 'machine_id' AS by_column, machine_id AS level_text, month_no, 1e0 AS amount
FROM stg_equipment
WHERE item = 'absorbent' AND action = 'marked'
UNION ALL
SELECT 'absorbent_marks_expected' AS measure, 'machine_id' AS by_column, machine_cycles.machine_id AS level_text,
    CASE WHEN machine_cycles.to_s IS NULL THEN last_month.month_no ELSE machine_cycles.end_month_no END AS month_no,
    floor(machine_cycles.used_s / 60e0 / nullif(numbers.minutes_per_mark, 0e0)) AS amount
FROM machine_cycles
CROSS JOIN numbers
CROSS JOIN last_month
WHERE machine_cycles.item = 'absorbent'
