-- case_points: the lowest temperature of each case beside how long it lasted.
--
-- Grain   one row a case of a species with a temperature scheme that has a valid temperature
-- Reads   case_temperatures, case_windows
-- Units   minutes, °C
-- Source  none
--
-- Rules
--   $first, $last: month numbers, both inside.

SELECT
    case_windows.case_id,
    case_windows.month_no,
    case_windows.anesthesia_min,
    case_temperatures.lowest
FROM case_temperatures
INNER JOIN case_windows ON case_windows.case_id = case_temperatures.case_id
WHERE case_temperatures.lowest IS NOT NULL
    AND case_windows.month_no BETWEEN $first AND $last
ORDER BY case_windows.start_s, case_windows.case_id
