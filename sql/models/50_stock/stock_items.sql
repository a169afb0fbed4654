-- stock_items: everything on the shelf: what clinic.toml names, and what only the store's rows name.
--
-- Grain   one row an item
-- Reads   seed_stock_items, stg_stock, seed_stock_units
-- Units   pack_size in base_unit a pack; concentration_mg_ml mg/mL; *_days d; price money a pack
-- Source  the clinic's [items] settings; spellings of units are rows of seed_stock_units
--
-- Rules
--   Base unit is L for what is no drug and has L for its unit; else mL where a pack is stated in mL, else the unit
--   of the settings, else the one kind of unit that every row of the item is charted in, else unknown. Counted in
--   packs, a pack is 1.

WITH

charted AS (
    SELECT
        stg_stock.item,
        CASE
            WHEN count(*) = count(seed_stock_units.family)
                AND min(seed_stock_units.family) = max(seed_stock_units.family)
                THEN max(seed_stock_units.family)
        END AS family
    FROM stg_stock
    LEFT JOIN seed_stock_units ON seed_stock_units.spelling = lower(stg_stock.quantity_unit)
    GROUP BY stg_stock.item
),

names AS (
    SELECT item FROM seed_stock_items
    UNION
    SELECT item FROM charted
),

based AS (
    SELECT
        names.item,
        CASE WHEN seed_stock_items.item IS NULL THEN 0 ELSE 1 END AS in_settings,
        seed_stock_items.drug,
        seed_stock_items.consumable,
        seed_stock_items.concentration_mg_ml,
        CASE
            WHEN units.family = 'L' AND seed_stock_items.drug IS NULL THEN 'L'
            WHEN seed_stock_items.pack_ml IS NOT NULL THEN 'mL'
            ELSE coalesce(units.family, seed_stock_items.item_unit, charted.family)
        END AS base_unit,
        seed_stock_items.pack_ml,
        coalesce(seed_stock_items.pack_ml, seed_stock_items.pack_units * coalesce(units.factor, 1e0)) AS stated_size,
        seed_stock_items.lead_days,
        seed_stock_items.service_level,
        seed_stock_items.minimum,
        seed_stock_items.shelf_days,
        seed_stock_items.open_days,
        seed_stock_items.price,
        coalesce(seed_stock_items.control, '') AS control
    FROM names
    LEFT JOIN seed_stock_items ON seed_stock_items.item = names.item
    LEFT JOIN charted ON charted.item = names.item
    LEFT JOIN seed_stock_units AS units ON units.spelling = lower(seed_stock_items.item_unit)
)

SELECT
    item,
    in_settings,
    drug,
    consumable,
    concentration_mg_ml,
    base_unit,
    CASE
        WHEN base_unit = 'pack' THEN 1e0
        WHEN base_unit = 'L' AND pack_ml IS NOT NULL THEN pack_ml / 1000e0
        ELSE stated_size
    END AS pack_size,
    lead_days,
    service_level,
    minimum,
    shelf_days,
    open_days,
    price,
    control
FROM based
