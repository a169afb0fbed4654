-- item_drugs: the concentration and pack that stand for a drug where its rows name none.
--
-- Grain   one row a drug that the clinic's items hold
-- Reads   seed_items
-- Units   mg/mL; mL a pack
-- Source  the clinic's [items] settings
-- Built   as a view
--
-- Rules
--   Known only where every item of the drug agrees: two strengths on the shelf leave it unknown.

SELECT
    drug,
    CASE WHEN min(concentration_mg_ml) = max(concentration_mg_ml) THEN max(concentration_mg_ml) END
        AS concentration_mg_ml,
    CASE WHEN min(pack_ml) = max(pack_ml) THEN max(pack_ml) END AS pack_ml
FROM seed_items
WHERE drug IS NOT NULL
GROUP BY drug
