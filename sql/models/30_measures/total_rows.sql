-- total_rows: everything that is summed, one row a thing counted, in each group its total stands by.
--
-- Grain   one row a thing counted (dose, case, change, mark, cycle), measure, grouping column and level
-- Reads   drug_doses, stg_stock, seed_items, gas_use, case_groups, case_windows, case_absorbent, stg_cases, stg_equipment, machine_cycles, seed_windows, seed_agents, seed_stock_units
-- Units   amount in the measure's unit, NULL where unknown; month_no year x 12 + month - 1
-- Source  minutes a mark stands for are a row of seed_windows; spellings of units are rows of seed_stock_units
-- Built   as a view
--
-- Rules
--   A case's gases and absorbent hours go to the month of its start. Marks expected of a cycle go to the month
--   it ends, of an open one to the last month with a case. Packs opened of a drug: as charted in packs, else mL
--   (mg by the item's concentration) over the mL of a pack; in another unit, or none, unknown.

WITH

numbers AS (
    SELECT max(CASE WHEN name = 'absorbent_minutes_per_mark' THEN val END) AS minutes_per_mark
    FROM seed_windows
),

last_month AS (
    SELECT max(month_no) AS month_no
    FROM case_windows
),

oxygen AS (
    SELECT 'oxygen_l' AS measure, case_groups.by_column, case_groups.level_text, case_groups.month_no,
        gas_use.oxygen_l AS amount
    FROM gas_use
    INNER JOIN case_groups ON case_groups.case_id = gas_use.case_id
    WHERE case_groups.by_column IN ('all', 'asa_class', 'species', 'machine_id')
),

inhalants AS (
    SELECT gas_use.agent, gas_use.month_no, gas_use.liquid_ml, gas_use.co2e_kg
    FROM gas_use
    INNER JOIN seed_agents ON seed_agents.agent = gas_use.agent
)

SELECT 'drug_mg' AS measure, 'drug' AS by_column, drug AS level_text, month_no, mg AS amount FROM drug_doses
UNION ALL
SELECT 'drug_ml' AS measure, 'drug' AS by_column, drug AS level_text, month_no, ml AS amount FROM drug_doses
UNION ALL
SELECT 'drug_packs' AS measure, 'drug' AS by_column, drug AS level_text, month_no, packs AS amount FROM drug_doses
UNION ALL
SELECT 'drug_wasted_ml' AS measure, 'drug' AS by_column, drug AS level_text, month_no, wasted_ml AS amount
FROM drug_doses
UNION ALL
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
SELECT measure, by_column, level_text, month_no, amount FROM oxygen
UNION ALL
SELECT 'agent_liquid_ml' AS measure, 'agent' AS by_column, agent AS level_text, month_no, liquid_ml AS amount
FROM inhalants
UNION ALL
SELECT 'co2e_kg' AS measure, 'agent' AS by_column, agent AS level_text, month_no, co2e_kg AS amount FROM inhalants
UNION ALL
SELECT 'cases' AS measure, by_column, level_text, month_no, 1e0 AS amount FROM case_groups
UNION ALL
SELECT 'anesthesia_hours' AS measure, case_groups.by_column, case_groups.level_text, case_groups.month_no,
    case_windows.anesthesia_min / 60e0 AS amount
FROM case_groups
INNER JOIN case_windows ON case_windows.case_id = case_groups.case_id
UNION ALL
SELECT 'absorbent_hours' AS measure, 'machine_id' AS by_column,
    coalesce(stg_cases.machine_id, 'not recorded') AS level_text, case_windows.month_no,
    case_absorbent.use_hours AS amount
FROM case_windows
INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
LEFT JOIN case_absorbent ON case_absorbent.case_id = case_windows.case_id
WHERE stg_cases.breathing_system = 'rebreathing'
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
