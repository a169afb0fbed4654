-- drug_book_parts: each volume that a line of the controlled-drug book is made of.
--
-- Grain   one row a line of the book that is off and a volume written in it
-- Reads   syringe_balances, cupboard_balances, drug_doses, cupboard_moves
-- Units   ml mL; sign +1 where more of it makes the difference larger; other_unit volume a mg or mL a pack
-- Source  none
--
-- Rules
--   The difference of a line is the sum of sign x ml, opening apart. other_unit is the factor by which a volume
--   would change if it had been written in the other unit: concentration for a syringe, the pack for a cupboard.

WITH

doses AS (
    SELECT
        drug_doses.case_id,
        drug_doses.drug,
        coalesce(drug_doses.given_by, '') AS person,
        drug_doses.given_day,
        drug_doses.drawn_ml,
        drug_doses.ml,
        drug_doses.wasted_ml,
        drug_doses.concentration_mg_ml
    FROM drug_doses
    INNER JOIN syringe_balances
        ON syringe_balances.case_id = drug_doses.case_id
        AND syringe_balances.drug = drug_doses.drug
        AND coalesce(syringe_balances.given_by, '') = coalesce(drug_doses.given_by, '')
        AND syringe_balances.given_day = drug_doses.given_day
    WHERE syringe_balances.state = 'off'
),

moves AS (
    SELECT
        cupboard_moves.item,
        cupboard_moves.moved_day,
        cupboard_moves.part_no,
        cupboard_moves.movement,
        cupboard_moves.ml,
        cupboard_moves.pack_size
    FROM cupboard_balances
    INNER JOIN cupboard_moves
        ON cupboard_moves.item = cupboard_balances.item
        AND cupboard_moves.moved_day = cupboard_balances.moved_day
        AND cupboard_moves.part_no = cupboard_balances.part_no
    WHERE cupboard_balances.state = 'off'
)

SELECT 'syringe' AS book, case_id, drug AS what, person, given_day AS book_day, 0 AS part_no, 1e0 AS sign,
    drawn_ml AS ml, concentration_mg_ml AS other_unit
FROM doses
WHERE drawn_ml IS NOT NULL
UNION ALL
SELECT 'syringe' AS book, case_id, drug AS what, person, given_day AS book_day, 0 AS part_no, -1e0 AS sign,
    ml, concentration_mg_ml AS other_unit
FROM doses
WHERE ml IS NOT NULL
UNION ALL
SELECT 'syringe' AS book, case_id, drug AS what, person, given_day AS book_day, 0 AS part_no, -1e0 AS sign,
    wasted_ml AS ml, concentration_mg_ml AS other_unit
FROM doses
WHERE wasted_ml IS NOT NULL
UNION ALL
SELECT 'cupboard' AS book, '' AS case_id, item AS what, '' AS person, moved_day AS book_day, part_no,
    CASE WHEN movement IN ('received', 'returned') THEN 1e0 ELSE -1e0 END AS sign,
    ml, pack_size AS other_unit
FROM moves
