-- case_stages: every measure that is a time to something, seen or censored.
--
-- Grain   one row a case that enters the curve, and measure
-- Reads   recovery_stages, case_temperatures
-- Units   minutes; seen 1, censored 0
-- Source  none
-- Built   as a view
--
-- Rules
--   minutes_to_hypothermia from start, censored at the last valid value. minutes_to_rewarm from end, for cases
--   cold at the last value under anesthesia that have a value after it.

SELECT case_id, measure, minutes, seen
FROM recovery_stages
WHERE minutes IS NOT NULL
UNION ALL
SELECT
    case_id,
    'minutes_to_hypothermia' AS measure,
    (coalesce(first_cold_s, last_in_record_s) - start_s) / 60e0 AS minutes,
    CASE WHEN first_cold_s IS NULL THEN 0 ELSE 1 END AS seen
FROM case_temperatures
WHERE last_in_record_s IS NOT NULL
UNION ALL
SELECT
    case_id,
    'minutes_to_rewarm' AS measure,
    (coalesce(first_warm_s, last_after_s) - end_s) / 60e0 AS minutes,
    CASE WHEN first_warm_s IS NULL THEN 0 ELSE 1 END AS seen
FROM case_temperatures
WHERE last_in_anesthesia < cold_below
    AND last_after_s IS NOT NULL
