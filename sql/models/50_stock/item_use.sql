-- item_use: what the records say each item was used for, row by row.
--
-- Grain   one row a charted dose, a case's inhalant, a case's oxygen, a changed absorbent or canister
-- Reads   stock_items, drug_doses, gas_use, case_windows, stg_cases, stg_equipment, seed_agents, seed_windows
-- Units   qty in the item's base_unit, NULL where unknown; month_no year x 12 + month - 1, local
-- Source  the charge of absorbent where a change does not say is a row of seed_windows
--
-- Rules
--   A drug on the shelf as one item is that item; as several, the only one of the concentration the row names.
--   Two items of one strength, or of one consumable, cannot be told apart: the records then say nothing of
--   either. What leaves the pack is mg / the pack's concentration, else the mL given; what was wasted comes on
--   top. Oxygen is an item in L or mL, absorbent one in g or in whole charges, canisters are counted.

WITH

holders AS (
    SELECT
        item,
        drug,
        consumable,
        concentration_mg_ml,
        base_unit,
        count(*) OVER (PARTITION BY coalesce(drug, consumable)) AS of_kind,
        count(*) OVER (PARTITION BY coalesce(drug, consumable), concentration_mg_ml) AS of_strength
    FROM stock_items
    WHERE coalesce(drug, consumable) IS NOT NULL
),

doses AS (
    SELECT
        holders.item,
        drug_doses.case_id,
        coalesce(case_windows.start_day, drug_doses.given_day) AS use_day,
        drug_doses.month_no,
        CASE
            WHEN drug_doses.mg IS NOT NULL AND holders.concentration_mg_ml > 0e0
                THEN drug_doses.mg / nullif(holders.concentration_mg_ml, 0e0)
            ELSE drug_doses.ml
        END AS given_qty,
        CASE
            WHEN drug_doses.wasted_ml IS NULL THEN 0e0
            WHEN drug_doses.concentration_mg_ml > 0e0 AND holders.concentration_mg_ml > 0e0
                THEN drug_doses.wasted_ml * drug_doses.concentration_mg_ml
                    / nullif(holders.concentration_mg_ml, 0e0)
            ELSE drug_doses.wasted_ml
        END AS wasted_qty
    FROM drug_doses
    INNER JOIN holders ON holders.drug = drug_doses.drug
    LEFT JOIN seed_agents ON seed_agents.agent = holders.drug
    LEFT JOIN case_windows ON case_windows.case_id = drug_doses.case_id
    WHERE seed_agents.agent IS NULL
        AND holders.base_unit = 'mL'
        AND (
            holders.of_kind = 1
            OR (holders.of_strength = 1 AND holders.concentration_mg_ml = drug_doses.concentration_mg_ml)
        )
),

gases AS (
    SELECT
        holders.item,
        gas_use.case_id,
        case_windows.start_day AS use_day,
        gas_use.month_no,
        CASE
            WHEN holders.consumable <> 'oxygen' OR holders.consumable IS NULL THEN gas_use.liquid_ml
            WHEN holders.base_unit = 'L' THEN gas_use.oxygen_l
            ELSE gas_use.oxygen_l * 1000e0
        END AS qty
    FROM gas_use
    INNER JOIN case_windows ON case_windows.case_id = gas_use.case_id
    INNER JOIN holders
        ON (holders.base_unit = 'mL' AND coalesce(holders.drug, holders.consumable) = gas_use.agent)
        OR (holders.base_unit IN ('mL', 'L') AND holders.consumable = 'oxygen')
    WHERE holders.of_kind = 1
),

charge AS (
    SELECT max(CASE WHEN name = 'absorbent_grams' THEN val END) AS grams
    FROM seed_windows
),

changes AS (
    SELECT
        holders.item,
        stg_equipment.done_day AS use_day,
        stg_equipment.month_no,
        CASE
            WHEN holders.base_unit <> 'g' THEN 1e0
            WHEN stg_equipment.val_unit = 'g' THEN stg_equipment.val
            ELSE charge.grams
        END AS qty
    FROM stg_equipment
    CROSS JOIN charge
    INNER JOIN holders ON holders.consumable = stg_equipment.item
    WHERE stg_equipment.action = 'changed' AND holders.of_kind = 1
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
