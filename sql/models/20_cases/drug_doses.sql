-- drug_doses: each dose or infusion segment in mg, mL and packs.
--
-- Grain   one row a charted dose or segment
-- Reads   stg_drugs, stg_cases, case_windows, item_drugs
-- Units   mg, mL, packs; month_no year x 12 + month - 1 of the case's start, else of given_at
-- Source  none
-- Built   by case
--
-- Rules
--   mg, mcg and mL stand on boluses and, as the total, on infusions; per kg on boluses only; rates on infusions
--   only; a mismatch is unknown. An infusion stops at stopped_at, else at the next row of the case and drug.
--   Concentration is the row's, then the item's. mL is its own, else mg / concentration. Unknown stays NULL.

WITH

moments AS (
    SELECT
        case_id,
        drug,
        given_s,
        lead(given_s) OVER (PARTITION BY case_id, drug ORDER BY given_s) AS next_given_s
    FROM stg_drugs
    WHERE given_s IS NOT NULL
    GROUP BY case_id, drug, given_s
),

measured AS (
    SELECT
        stg_drugs.case_id,
        stg_drugs.drug,
        stg_drugs.kind,
        stg_drugs.phase,
        stg_drugs.route,
        stg_drugs.given_s,
        stg_drugs.given_day,
        coalesce(case_windows.month_no, stg_drugs.given_month_no) AS month_no,
        CASE WHEN case_windows.case_id IS NULL THEN 1 ELSE 0 END AS without_start,
        stg_drugs.amount,
        stg_drugs.amount_unit,
        stg_drugs.drawn_ml,
        stg_drugs.wasted_ml,
        stg_drugs.lot,
        stg_drugs.given_by,
        stg_drugs.witnessed_by,
        stg_drugs.source_file,
        stg_drugs.source_row,
        stg_cases.weight_kg,
        coalesce(stg_drugs.concentration_mg_ml, item_drugs.concentration_mg_ml) AS mg_ml,
        item_drugs.pack_ml,
        CASE
            WHEN stg_drugs.kind = 'infusion' AND coalesce(stg_drugs.stopped_s, moments.next_given_s) >= stg_drugs.given_s
                THEN (coalesce(stg_drugs.stopped_s, moments.next_given_s) - stg_drugs.given_s) / 3600e0
        END AS run_h
    FROM stg_drugs
    LEFT JOIN moments
        ON moments.case_id = stg_drugs.case_id
        AND moments.drug = stg_drugs.drug
        AND moments.given_s = stg_drugs.given_s
    LEFT JOIN stg_cases ON stg_cases.case_id = stg_drugs.case_id
    LEFT JOIN case_windows ON case_windows.case_id = stg_drugs.case_id
    LEFT JOIN item_drugs ON item_drugs.drug = stg_drugs.drug
),

amounts AS (
    SELECT
        measured.case_id,
        measured.drug,
        measured.kind,
        measured.phase,
        measured.route,
        measured.given_s,
        measured.given_day,
        measured.month_no,
        measured.without_start,
        measured.amount,
        measured.amount_unit,
        measured.drawn_ml,
        measured.wasted_ml,
        measured.lot,
        measured.given_by,
        measured.witnessed_by,
        measured.source_file,
        measured.source_row,
        measured.weight_kg,
        measured.mg_ml,
        measured.pack_ml,
        CASE
            WHEN measured.amount_unit = 'mg' THEN measured.amount
            WHEN measured.amount_unit = 'mcg' THEN measured.amount / 1000e0
            WHEN measured.amount_unit = 'mg/kg' AND measured.kind = 'bolus' THEN measured.amount * measured.weight_kg
            WHEN measured.amount_unit = 'mcg/kg' AND measured.kind = 'bolus'
                THEN measured.amount * measured.weight_kg / 1000e0
            WHEN measured.amount_unit = 'mg/h' THEN measured.amount * measured.run_h
            WHEN measured.amount_unit = 'mg/kg/h' THEN measured.amount * measured.weight_kg * measured.run_h
            WHEN measured.amount_unit = 'mcg/kg/h'
                THEN measured.amount * measured.weight_kg * measured.run_h / 1000e0
            WHEN measured.amount_unit = 'mcg/kg/min'
                THEN measured.amount * measured.weight_kg * measured.run_h * 60e0 / 1000e0
        END AS own_mg,
        CASE
            WHEN measured.amount_unit = 'mL' THEN measured.amount
            WHEN measured.amount_unit = 'mL/h' THEN measured.amount * measured.run_h
        END AS own_ml
    FROM measured
)

SELECT
    case_id,
    drug,
    kind,
    phase,
    route,
    given_s,
    given_day,
    month_no,
    without_start,
    amount,
    amount_unit,
    mg_ml AS concentration_mg_ml,
    weight_kg,
    coalesce(own_mg, own_ml * mg_ml) AS mg,
    coalesce(own_ml, own_mg / nullif(mg_ml, 0e0)) AS ml,
    coalesce(own_ml, own_mg / nullif(mg_ml, 0e0)) / nullif(pack_ml, 0e0) AS packs,
    drawn_ml,
    wasted_ml,
    lot,
    given_by,
    witnessed_by,
    source_file,
    source_row
FROM amounts
