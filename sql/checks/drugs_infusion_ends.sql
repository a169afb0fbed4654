-- drugs_infusion_ends: does an infusion end?
--
-- Judges  every infusion with a start
-- Reads   drugs
--
-- Rules
--   It stops at stopped_at, else at the next row of the same case and drug.

WITH

endless AS (
    SELECT DISTINCT case_id, drug
    FROM drugs
    WHERE kind = 'infusion' AND given_at_s IS NOT NULL AND stopped_at_s IS NULL
),

latest AS (
    SELECT drugs.case_id, drugs.drug, max(drugs.given_at_s) AS given_at_s
    FROM drugs
    INNER JOIN endless
        ON endless.case_id IS NOT DISTINCT FROM drugs.case_id AND endless.drug IS NOT DISTINCT FROM drugs.drug
    GROUP BY drugs.case_id, drugs.drug
)

SELECT
    CASE WHEN drugs.stopped_at_s IS NULL AND drugs.given_at_s = latest.given_at_s THEN 1 ELSE 0 END AS failed,
    drugs.case_id,
    drugs.source_file,
    drugs.source_row,
    CASE WHEN failed = 1 THEN drugs.drug || ' from ' || CAST(drugs.given_at AS VARCHAR) || ', no end' END AS found
FROM drugs
LEFT JOIN latest
    ON latest.case_id IS NOT DISTINCT FROM drugs.case_id AND latest.drug IS NOT DISTINCT FROM drugs.drug
WHERE drugs.kind = 'infusion' AND drugs.given_at_s IS NOT NULL
