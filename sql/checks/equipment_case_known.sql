-- equipment_case_known: does a row of the equipment log name a case that is loaded?
--
-- Judges  every row that names a case
-- Reads   equipment, check_cases

SELECT
    CASE WHEN known.case_id IS NULL THEN 1 ELSE 0 END AS failed,
    equipment.case_id,
    equipment.source_file,
    equipment.source_row,
    equipment.person,
    CASE WHEN failed = 1 THEN equipment.item || ' ' || equipment.action END AS found
FROM equipment
LEFT JOIN (SELECT DISTINCT case_id FROM check_cases) AS known ON known.case_id = equipment.case_id
WHERE equipment.case_id IS NOT NULL
