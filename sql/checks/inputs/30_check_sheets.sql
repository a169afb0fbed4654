-- check_sheets: what the readings of a case are held against: kind of animal, inhalant, times on the sheet.
--
-- Kept    table
-- Grain   one row a case
-- Reads   check_cases, check_values
-- Units   from_s, to_s, off_s, died_s seconds of UTC since 1970

SELECT
    check_cases.case_id,
    coalesce(min(check_cases.species), '') AS species,
    coalesce(min(check_cases.agent), '') AS agent,
    min(check_cases.first_s) - CAST(min(check_values.reading_margin_min) AS BIGINT) * 60 AS from_s,
    max(check_cases.last_s) + CAST(min(check_values.reading_margin_min) AS BIGINT) * 60 AS to_s,
    min(check_cases.vaporizer_off_at_s) AS off_s,
    min(check_cases.died_s) AS died_s
FROM check_cases
CROSS JOIN check_values
WHERE check_cases.case_id IS NOT NULL
GROUP BY check_cases.case_id
