-- drugs_local_total: do all local anesthetics of a case together stay under their limit?
--
-- Judges  every case with a local anesthetic of known dose and band
-- Reads   check_drugs
-- Source  limits are the highs of seed_formulary
--
-- Rules
--   Each drug's mg/kg counts as a share of its own limit; the shares add up, for their harm adds up.

WITH

shares AS (
    SELECT
        case_id,
        sum(per_kg / nullif(high, 0e0)) AS share,
        count(*) AS doses,
        max(source_file) AS source_file,
        max(source_row) AS source_row
    FROM check_drugs
    WHERE drug IN ('lidocaine', 'bupivacaine', 'ropivacaine') AND way = 'dose' AND per_kg > 0e0 AND high > 0e0
    GROUP BY case_id
)

SELECT
    CASE WHEN share > 1e0 + 1e-9 AND doses > 1 THEN 1 ELSE 0 END AS failed,
    case_id,
    source_file,
    source_row,
    CASE
        WHEN failed = 1 THEN CAST(doses AS VARCHAR) || ' doses, together '
            || CAST(CAST(floor(share * 100e0 + 0.5e0) AS BIGINT) AS VARCHAR) || ' % of the limit'
    END AS found
FROM shares
