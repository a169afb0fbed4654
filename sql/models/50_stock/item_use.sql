-- item_use: what the records say each item was used for, row by row.
--
-- Grain   one row a charted dose, a case's inhalant, a case's oxygen, a changed absorbent or canister
-- Reads   stock_items, drug_doses, gas_use, case_windows, stg_cases, stg_equipment, seed_agents, seed_windows
-- Units   qty in the item's base_unit, NULL where unknown; month_no year x 12 + month - 1, local
-- Source  the charge of absorbent where a change does not say is a row of seed_windows
--
-- Rules
--   A drug on the shelf in one strength is that item; in several, the one whose concentration the row names.
--   What leaves the pack is mg / the pack's concentration, else the mL given; what was wasted comes on top.
--   Oxygen is an item in L, absorbent one in g or in whole charges, canisters are counted.

WITH

strengths AS (
    SELECT drug, count(*) AS items
    FROM stock_items
    WHERE drug IS NOT NULL
    GROUP BY drug
),

doses AS (
    SELECT
        stock_items.item,
        drug_doses.case_id,
        coalesce(case_windows.start_day, drug_doses.given_day) AS use_day,
        drug_doses.month_no,
        CASE
            WHEN drug_doses.mg IS NOT NULL AND stock_items.concentration_mg_ml > 0e0
                THEN drug_doses.mg / nullif(stock_items.concentration_mg_ml, 0e0)
            ELSE drug_doses.ml
        END AS given_qty,
        CASE
            WHEN drug_doses.wasted_ml IS NULL THEN 0e0
            WHEN drug_doses.concentration_mg_ml > 0e0 AND stock_items.concentration_mg_ml > 0e0
                THEN drug_doses.wasted_ml * drug_doses.concentration_mg_ml
                    / nullif(stock_items.concentration_mg_ml, 0e0)
            ELSE drug_doses.wasted_ml
        END AS wasted_qty
    FROM drug_doses
    INNER JOIN stock_items ON stock_items.drug = drug_doses.drug
    INNER JOIN strengths ON strengths.drug = stock_items.drug
    LEFT JOIN seed_agents ON seed_agents.agent = stock_items.drug
    LEFT JOIN case_windows ON case_windows.case_id = drug_doses.case_id
    WHERE seed_agents.agent IS NULL
        AND stock_items.base_unit = 'mL'
        AND (strengths.items = 1 OR stock_items.concentration_mg_ml = drug_doses.concentration_mg_ml)
),

gases AS (
    SELECT
        stock_items.item,
        gas_use.case_id,
        case_windows.start_day AS use_day,
        gas_use.month_no,
        CASE WHEN stock_items.consumable = 'oxygen' THEN gas_use.oxygen_l ELSE gas_use.liquid_ml END AS qty
    FROM gas_use
    INNER JOIN case_windows ON case_windows.case_id = gas_use.case_id
    INNER JOIN stock_items
        ON (stock_items.base_unit = 'mL' AND coalesce(stock_items.drug, stock_items.consumable) = gas_use.agent)
        OR (stock_items.base_unit = 'L' AND stock_items.consumable = 'oxygen')
),

charge AS (
    SELECT max(CASE WHEN name = 'absorbent_grams' THEN val END) AS grams
    FROM seed_windows
),

changes AS (
    SELECT
        stock_items.item,
        stg_equipment.done_day AS use_day,
        stg_equipment.month_no,
        CASE
            WHEN stock_items.base_unit <> 'g' THEN 1e0
            WHEN stg_equipment.val_unit = 'g' THEN stg_equipment.val
            ELSE charge.grams
        END AS qty
    FROM stg_equipment
    CROSS JOIN charge
    INNER JOIN stock_items ON stock_items.consumable = stg_equipment.item
    WHERE stg_equipment.action = 'changed'
),

used AS (
    SELECT item, case_id, use_day, month_no, given_qty + wasted_qty AS qty FROM doses
    UNION ALL
    SELECT item, case_id, use_day, month_no, qty FROM gases
    UNION ALL
    SELECT item, CAST(NULL AS STRING) AS case_id, use_day, month_no, qty FROM changes
)

SELECT
    used.item,
    used.case_id,
    coalesce(stg_cases.species, 'not recorded') AS species,
    coalesce(stg_cases.procedure_group, 'not recorded') AS procedure_group,
    used.use_day,
    used.month_no,
    used.qty
FROM used
LEFT JOIN stg_cases ON stg_cases.case_id = used.case_id
