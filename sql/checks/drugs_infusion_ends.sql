-- drugs_infusion_ends: does an infusion end?
--
-- Judges  every infusion with a start
-- Reads   drugs
--
-- Rules
--   It stops at stopped_at, else at the next row of the same case and drug.

SELECT
    CASE
        WHEN kind <> 'infusion' THEN NULL
        WHEN stopped_at_s IS NULL AND latest THEN 1
        ELSE 0
    END AS failed,
    case_id,
    source_file,
    source_row,
    CASE WHEN failed = 1 THEN drug || ' from ' || CAST(given_at AS VARCHAR) || ', no end' END AS found
FROM (
    SELECT
        drugs.*,
        given_at_s = max(given_at_s) OVER (PARTITION BY case_id, drug) AS latest
    FROM drugs
    WHERE given_at_s IS NOT NULL
) AS rows_with_a_time
WHERE kind = 'infusion'
