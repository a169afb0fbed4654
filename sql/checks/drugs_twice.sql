-- drugs_twice: was one dose charted twice?
--
-- Judges  every dose with a time and an amount
-- Reads   drugs

SELECT
    CASE
        WHEN row_number() OVER (
            PARTITION BY case_id, drug, kind, given_at_s, amount, amount_unit ORDER BY source_file, source_row
        ) > 1 THEN 1
        ELSE 0
    END AS failed,
    case_id,
    source_file,
    source_row,
    CASE
        WHEN failed = 1 THEN drug || ' ' || CAST(amount AS VARCHAR) || ' ' || coalesce(amount_unit, '') || ' at '
            || CAST(given_at AS VARCHAR) || ' stands twice'
    END AS found
FROM drugs
WHERE given_at_s IS NOT NULL AND amount IS NOT NULL
