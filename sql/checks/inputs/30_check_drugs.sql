-- check_drugs: every dose with its case, its amount for each kg and the formulary's band for it.
--
-- Kept    table
-- Grain   one row a dose or infusion segment
-- Reads   drugs, check_cases, check_files, check_values, check_bands, seed_formulary,
--         seed_strengths, seed_items, seed_plausibility
-- Units   per_kg, low, high mg/kg for boluses, mg/kg/h for infusion rates; *_s seconds of UTC since 1970
--
-- Rules
--   The band of the row's own route wins over that of any route.
--   low and high are the formulary's lowest and highest; outer_low and outer_high the band around them.
--   A weight outside the species' bounds judges no dose.
--   dose_fault is 'none', 'factor_1000' or 'factor_10' where the dose would fit after that step, else 'band':
--   fentanyl 5 mg/kg in a dog is 1000 times 5 mcg/kg; NULL where the dose or its band is unknown.

WITH

strengths AS (
    SELECT drug, min(concentration_mg_ml) AS mg_ml
    FROM seed_items
    GROUP BY drug
    HAVING min(concentration_mg_ml) = max(concentration_mg_ml)
),

known_drugs AS (
    SELECT seed_formulary.drug, max(seed_strengths.concentration_mg_ml) AS most_mg_ml
    FROM seed_formulary
    LEFT JOIN seed_strengths ON seed_strengths.drug = seed_formulary.drug
    GROUP BY seed_formulary.drug
),

known_strengths AS (
    SELECT drug, concentration_mg_ml AS mg_ml FROM seed_strengths
    UNION
    SELECT drug, concentration_mg_ml AS mg_ml FROM seed_items
),

controlled AS (
    SELECT drug, min(control) AS control
    FROM seed_items
    WHERE control <> ''
    GROUP BY drug
),

one_case AS (
    SELECT
        check_cases.case_id,
        min(check_cases.species) AS species,
        min(check_cases.first_s) AS first_s,
        max(check_cases.last_s) AS last_s,
        min(check_cases.induction_at_s) AS induction_s,
        min(CASE WHEN check_cases.weight_kg BETWEEN bounds.low AND bounds.high OR bounds.low IS NULL
            THEN check_cases.weight_kg END) AS weight_kg
    FROM check_cases
    LEFT JOIN seed_plausibility AS bounds
        ON bounds.parameter = 'weight_kg' AND bounds.species = check_cases.species
    GROUP BY check_cases.case_id
),

amounts AS (
    SELECT
        drugs.*,
        one_case.case_id AS known_case,
        one_case.species,
        one_case.weight_kg,
        one_case.first_s,
        one_case.last_s,
        one_case.induction_s,
        coalesce(drugs.concentration_mg_ml, strengths.mg_ml) AS mg_ml,
        controlled.control,
        check_files.loaded_s,
        CASE WHEN drugs.drug IS NULL THEN NULL WHEN known_drugs.drug IS NULL THEN 0 ELSE 1 END AS has_band,
        CASE WHEN known_drugs.most_mg_ml IS NULL THEN NULL WHEN known_strengths.drug IS NULL THEN 0 ELSE 1 END
            AS strength_known,
        CASE WHEN drugs.kind = 'infusion' THEN 'rate' WHEN drugs.kind = 'bolus' THEN 'dose' END AS way
    FROM drugs
    LEFT JOIN one_case ON one_case.case_id = drugs.case_id
    LEFT JOIN strengths ON strengths.drug = drugs.drug
    LEFT JOIN controlled ON controlled.drug = drugs.drug
    LEFT JOIN check_files ON check_files.file_id = drugs.source_file
    LEFT JOIN known_drugs ON known_drugs.drug = drugs.drug
    LEFT JOIN known_strengths
        ON known_strengths.drug = drugs.drug AND known_strengths.mg_ml = drugs.concentration_mg_ml
),

doses AS (
    SELECT
        amounts.*,
        CASE
            WHEN way = 'dose' THEN CASE amount_unit
                WHEN 'mg/kg' THEN amount
                WHEN 'mcg/kg' THEN amount / 1000e0
                WHEN 'mg' THEN amount / nullif(weight_kg, 0e0)
                WHEN 'mcg' THEN amount / 1000e0 / nullif(weight_kg, 0e0)
                WHEN 'mL' THEN amount * mg_ml / nullif(weight_kg, 0e0)
            END
            WHEN way = 'rate' THEN CASE amount_unit
                WHEN 'mg/kg/h' THEN amount
                WHEN 'mcg/kg/h' THEN amount / 1000e0
                WHEN 'mcg/kg/min' THEN amount * 0.06e0
                WHEN 'mg/h' THEN amount / nullif(weight_kg, 0e0)
                WHEN 'mL/h' THEN amount * mg_ml / nullif(weight_kg, 0e0)
            END
        END AS per_kg
    FROM amounts
),

banded AS (
    SELECT
        doses.*,
        coalesce(own.low, usual.low) AS low,
        coalesce(own.high, usual.high) AS high,
        coalesce(own.low, usual.low) * check_values.dose_low_factor AS outer_low,
        coalesce(own.high, usual.high) * check_values.dose_high_factor AS outer_high
    FROM doses
    CROSS JOIN check_values
    LEFT JOIN check_bands AS own
        ON own.drug = doses.drug AND own.species = doses.species AND own.way = doses.way AND own.route = doses.route
    LEFT JOIN check_bands AS usual
        ON usual.drug = doses.drug AND usual.species = doses.species AND usual.way = doses.way
        AND usual.route = 'any'
)

SELECT
    banded.*,
    CASE
        WHEN per_kg IS NULL OR low IS NULL THEN NULL
        WHEN per_kg BETWEEN outer_low AND outer_high OR per_kg <= 0e0 THEN 'none'
        WHEN per_kg / 1000e0 BETWEEN outer_low AND outer_high OR per_kg * 1000e0 BETWEEN outer_low AND outer_high
            THEN 'factor_1000'
        WHEN per_kg / 10e0 BETWEEN low AND high OR per_kg * 10e0 BETWEEN low AND high THEN 'factor_10'
        ELSE 'band'
    END AS dose_fault
FROM banded
