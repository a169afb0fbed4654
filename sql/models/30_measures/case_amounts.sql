-- case_amounts: every measure of which a median over cases is shown.
--
-- Grain   one row an assessable case and measure
-- Reads   case_exposures, case_windows
-- Units   minutes; area in the parameter's unit x minutes
-- Source  none
-- Built   as a view

SELECT case_id, concat(measure, '_minutes') AS measure, beyond_min AS amount
FROM case_exposures
WHERE assessable = 1
UNION ALL
SELECT case_id, concat(measure, '_area') AS measure, area AS amount
FROM case_exposures
WHERE assessable = 1
UNION ALL
SELECT case_id, 'anesthesia_minutes' AS measure, anesthesia_min AS amount
FROM case_windows
WHERE anesthesia_min IS NOT NULL
