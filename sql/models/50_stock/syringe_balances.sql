-- syringe_balances: what was drawn up of a controlled drug against what was given and wasted.
--
-- Grain   one row a case, controlled drug, person who gave it and local day
-- Reads   drug_doses, stock_items, seed_windows
-- Units   *_ml mL; first_s seconds of UTC since 1970
-- Source  the tolerance is a row of seed_windows
--
-- Rules
--   drawn - given - wasted, off beyond the tolerance. Several doses from one syringe are drawn once: drawn and
--   wasted are the sums of what is charted. A dose of unknown mL, or nothing charted as drawn, leaves the line
--   unknown; nothing charted as wasted counts as none, and the line says so.

WITH

controlled AS (
    SELECT DISTINCT drug
    FROM stock_items
    WHERE control <> '' AND drug IS NOT NULL
),

summed AS (
    SELECT
        drug_doses.case_id,
        drug_doses.drug,
        drug_doses.given_by,
        drug_doses.given_day,
        min(drug_doses.given_s) AS first_s,
        min(drug_doses.month_no) AS month_no,
        count(*) AS doses,
        count(drug_doses.ml) AS known_doses,
        sum(drug_doses.drawn_ml) AS drawn_ml,
        CASE WHEN count(*) = count(drug_doses.ml) THEN sum(drug_doses.ml) END AS given_ml,
        sum(drug_doses.wasted_ml) AS wasted_ml,
        count(drug_doses.wasted_ml) AS wastes,
        max(drug_doses.witnessed_by) AS witnessed_by,
        CAST(
            sum(
                CASE
                    WHEN drug_doses.wasted_ml > 0e0
                        AND (drug_doses.witnessed_by IS NULL OR drug_doses.witnessed_by = drug_doses.given_by)
                        THEN 1
                    ELSE 0
                END
            ) AS BIGINT
        ) AS unwitnessed,
        min(drug_doses.source_file) AS source_file,
        min(drug_doses.source_row) AS source_row
    FROM drug_doses
    INNER JOIN controlled ON controlled.drug = drug_doses.drug
    GROUP BY drug_doses.case_id, drug_doses.drug, drug_doses.given_by, drug_doses.given_day
),

tolerance AS (
    SELECT max(CASE WHEN name = 'drug_book_tolerance_ml' THEN val END) AS tolerance_ml
    FROM seed_windows
)

SELECT
    summed.case_id,
    summed.drug,
    summed.given_by,
    summed.given_day,
    summed.first_s,
    summed.month_no,
    summed.doses,
    summed.known_doses,
    summed.drawn_ml,
    summed.given_ml,
    summed.wasted_ml,
    summed.wastes,
    summed.witnessed_by,
    summed.unwitnessed,
    summed.drawn_ml - summed.given_ml - coalesce(summed.wasted_ml, 0e0) AS difference_ml,
    CASE
        WHEN summed.drawn_ml IS NULL OR summed.given_ml IS NULL THEN 'unknown'
        WHEN abs(summed.drawn_ml - summed.given_ml - coalesce(summed.wasted_ml, 0e0)) > tolerance.tolerance_ml + 1e-9
            THEN 'off'
        ELSE 'balanced'
    END AS state,
    summed.source_file,
    summed.source_row
FROM summed
CROSS JOIN tolerance
