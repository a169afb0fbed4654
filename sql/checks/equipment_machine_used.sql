-- equipment_machine_used: is a machine of the equipment log used by any case?
--
-- Judges  every machine of the log, where cases name machines
-- Reads   equipment, check_cases

SELECT
    CASE WHEN min(used.machine_id) IS NULL THEN 1 ELSE 0 END AS failed,
    min(equipment.source_file) AS source_file,
    min(equipment.source_row) AS source_row,
    CASE WHEN failed = 1 THEN equipment.machine_id END AS found
FROM equipment
LEFT JOIN (SELECT DISTINCT machine_id FROM check_cases) AS used ON used.machine_id = equipment.machine_id
WHERE equipment.machine_id IS NOT NULL AND (SELECT count(machine_id) FROM check_cases) > 0
GROUP BY equipment.machine_id
