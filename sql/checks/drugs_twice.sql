-- drugs_twice: was one dose charted twice?
--
-- Judges  every dose with a time and an amount
-- Reads   drugs
--
-- Rules
--   Only doses whose case, drug, time and amount have the same hash as another's are held against each other.

WITH

doses AS (
    SELECT *, hash(case_id, drug, kind, given_at_s, amount, amount_unit) AS hashed
    FROM drugs
    WHERE given_at_s IS NOT NULL AND amount IS NOT NULL
),

alike AS (
    SELECT hashed
    FROM doses
    GROUP BY hashed
    HAVING count(*) > 1
),

again AS (
    SELECT
        doses.source_file,
        doses.source_row,
        row_number() OVER (
            PARTITION BY case_id, drug, kind, given_at_s, amount, amount_unit ORDER BY source_file, source_row
        ) AS place
    FROM doses
    INNER JOIN alike ON alike.hashed = doses.hashed
)

SELECT
    CASE WHEN again.place IS NULL THEN 0 ELSE 1 END AS failed,
    doses.case_id,
    doses.source_file,
    doses.source_row,
    CASE
        WHEN failed = 1 THEN doses.drug || ' ' || CAST(doses.amount AS VARCHAR) || ' '
            || coalesce(doses.amount_unit, '') || ' at ' || CAST(doses.given_at AS VARCHAR) || ' stands twice'
    END AS found
FROM doses
LEFT JOIN again
    ON again.source_file = doses.source_file AND again.source_row = doses.source_row AND again.place > 1
