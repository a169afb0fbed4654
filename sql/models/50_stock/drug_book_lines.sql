-- drug_book_lines: the controlled-drug book, syringe and cupboard, line by line.
--
-- Grain   one row a line of syringe_balances or cupboard_balances
-- Reads   syringe_balances, cupboard_balances, drug_book_parts, seed_drug_book_hints, seed_windows
-- Units   *_ml mL; hint_* 0 or 1
-- Source  factors of a slip are rows of seed_drug_book_hints
--
-- Rules
--   A hint names an arithmetic slip that would explain the difference to within the tolerance: one volume that
--   is ten times too large or small (decimal), that was written in another unit (unit), or a rest with nothing
--   charted as wasted (waste). It is a hint, never a finding about a person.

WITH

tolerance AS (
    SELECT max(CASE WHEN name = 'drug_book_tolerance_ml' THEN val END) AS tolerance_ml
    FROM seed_windows
),

lines AS (
    SELECT
        'syringe' AS book,
        case_id,
        drug AS what,
        given_by AS person,
        witnessed_by AS second_person,
        given_day AS book_day,
        0 AS part_no,
        month_no,
        CAST(NULL AS DOUBLE) AS opening_ml,
        drawn_ml AS in_ml,
        given_ml AS out_ml,
        wasted_ml AS lost_ml,
        CAST(NULL AS DOUBLE) AS counted_ml,
        difference_ml,
        state,
        CASE WHEN difference_ml > 0e0 AND wastes = 0 AND state = 'off' THEN 1 ELSE 0 END AS hint_waste,
        unwitnessed,
        source_file,
        source_row
    FROM syringe_balances
    UNION ALL
    SELECT
        'cupboard' AS book,
        '' AS case_id,
        item AS what,
        counted_by AS person,
        CAST(NULL AS STRING) AS second_person,
        moved_day AS book_day,
        part_no,
        month_no,
        opening_ml,
        received_ml + returned_ml AS in_ml,
        supplied_ml AS out_ml,
        discarded_ml + expired_ml AS lost_ml,
        counted_ml,
        difference_ml,
        state,
        0 AS hint_waste,
        0 AS unwitnessed,
        source_file,
        source_row
    FROM cupboard_balances
),

factors AS (
    SELECT hint, factor FROM seed_drug_book_hints
),

slips AS (
    SELECT
        drug_book_parts.book,
        drug_book_parts.case_id,
        drug_book_parts.what,
        drug_book_parts.person,
        drug_book_parts.book_day,
        drug_book_parts.part_no,
        drug_book_parts.sign,
        drug_book_parts.ml,
        factors.hint,
        factors.factor
    FROM drug_book_parts
    CROSS JOIN factors
    UNION ALL
    SELECT book, case_id, what, person, book_day, part_no, sign, ml, 'unit' AS hint, other_unit AS factor
    FROM drug_book_parts
    UNION ALL
    SELECT
        book, case_id, what, person, book_day, part_no, sign, ml, 'unit' AS hint,
        1e0 / nullif(other_unit, 0e0) AS factor
    FROM drug_book_parts
),

hints AS (
    SELECT
        lines.book,
        lines.case_id,
        lines.what,
        coalesce(lines.person, '') AS person,
        lines.book_day,
        lines.part_no,
        max(CASE WHEN slips.hint = 'decimal' THEN 1 ELSE 0 END) AS hint_decimal,
        max(CASE WHEN slips.hint = 'unit' THEN 1 ELSE 0 END) AS hint_unit
    FROM lines
    CROSS JOIN tolerance
    INNER JOIN slips
        ON slips.book = lines.book
        AND slips.case_id = lines.case_id
        AND slips.what = lines.what
        AND (lines.book = 'cupboard' OR slips.person = coalesce(lines.person, ''))
        AND slips.book_day = lines.book_day
        AND slips.part_no = lines.part_no
    WHERE lines.state = 'off'
        AND slips.ml <> 0e0
        AND slips.factor <> 1e0
        AND abs(lines.difference_ml + slips.sign * slips.ml * (slips.factor - 1e0)) <= tolerance.tolerance_ml + 1e-9
    GROUP BY lines.book, lines.case_id, lines.what, coalesce(lines.person, ''), lines.book_day, lines.part_no
)

SELECT
    lines.book,
    CASE WHEN lines.book = 'syringe' THEN lines.case_id END AS case_id,
    lines.what,
    lines.person,
    lines.second_person,
    lines.book_day,
    lines.part_no,
    lines.month_no,
    lines.opening_ml,
    lines.in_ml,
    lines.out_ml,
    lines.lost_ml,
    lines.counted_ml,
    lines.difference_ml,
    lines.state,
    coalesce(hints.hint_decimal, 0) AS hint_decimal,
    coalesce(hints.hint_unit, 0) AS hint_unit,
    lines.hint_waste,
    lines.unwitnessed,
    lines.source_file,
    lines.source_row
FROM lines
LEFT JOIN hints
    ON hints.book = lines.book
    AND hints.case_id = lines.case_id
    AND hints.what = lines.what
    AND hints.person = coalesce(lines.person, '')
    AND hints.book_day = lines.book_day
    AND hints.part_no = lines.part_no
