-- cases_patient_one_sex: is an animal male or female in all its cases, neutered or not?
--
-- Judges  every case with a patient and a sex
-- Reads   check_cases

WITH

sexes AS (
    SELECT
        check_cases.*,
        CASE WHEN sex IN ('female', 'female_neutered') THEN 1 WHEN sex IN ('male', 'male_neutered') THEN 0 END AS female
    FROM check_cases
    WHERE patient_id IS NOT NULL
)

SELECT
    CASE
        WHEN min(female) OVER (PARTITION BY patient_id) <> max(female) OVER (PARTITION BY patient_id) THEN 1
        ELSE 0
    END AS failed,
    case_id,
    source_file,
    source_row,
    CASE WHEN failed = 1 THEN sex END AS found
FROM sexes
WHERE female IS NOT NULL
