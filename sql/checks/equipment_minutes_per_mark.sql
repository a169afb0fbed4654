-- equipment_minutes_per_mark: do the settings say what one absorbent mark stands for?
--
-- Judges  the equipment log as a whole, where marks are charted
-- Reads   equipment, check_values

SELECT
    CASE WHEN min(check_values.absorbent_minutes_per_mark) IS NULL THEN 1 ELSE 0 END AS failed,
    CASE WHEN failed = 1 THEN CAST(count(*) AS VARCHAR) || ' marks, no minutes_per_mark in clinic.toml' END AS found
FROM equipment
CROSS JOIN check_values
WHERE equipment.item = 'absorbent' AND equipment.action = 'marked'
HAVING count(*) > 0
