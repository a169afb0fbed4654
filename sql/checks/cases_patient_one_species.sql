-- cases_patient_one_species: is an animal the same species in all its cases?
--
-- Judges  every case with a patient and a species
-- Reads   check_cases

SELECT
    CASE
        WHEN min(species) OVER (PARTITION BY patient_id) <> max(species) OVER (PARTITION BY patient_id) THEN 1
        ELSE 0
    END AS failed,
    case_id,
    source_file,
    source_row,
    CASE WHEN failed = 1 THEN species END AS found
FROM check_cases
WHERE patient_id IS NOT NULL AND species IS NOT NULL
