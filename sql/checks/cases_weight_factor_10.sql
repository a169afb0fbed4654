-- cases_weight_factor_10: did a decimal slip in an animal's weight?
--
-- Judges  every grown animal's case with a weight, weighed for another case within weight_days before
-- Reads   check_cases, check_values
-- Units   kg

WITH

ordered AS (
    SELECT
        check_cases.*,
        lag(weight_kg) OVER (PARTITION BY patient_id ORDER BY start_s, case_id) AS weight_before_kg,
        lag(start_s) OVER (PARTITION BY patient_id ORDER BY start_s, case_id) AS start_before_s,
        lag(case_id) OVER (PARTITION BY patient_id ORDER BY start_s, case_id) AS case_before
    FROM check_cases
    WHERE patient_id IS NOT NULL AND start_s IS NOT NULL AND weight_kg > 0e0 AND coalesce(age_years, 1e0) >= 1e0
),

compared AS (
    SELECT
        ordered.*,
        greatest(weight_kg / weight_before_kg, weight_before_kg / weight_kg) AS factor,
        abs(weight_kg - weight_before_kg) / weight_before_kg AS change
    FROM ordered
)

SELECT
    CASE
        WHEN compared.factor BETWEEN 8e0 AND 12.5e0 THEN 1
        ELSE 0
    END AS failed,
    compared.case_id,
    compared.source_file,
    compared.source_row,
    CASE
        WHEN failed = 1 THEN CAST(compared.weight_kg AS VARCHAR) || ' kg, '
            || CAST(compared.weight_before_kg AS VARCHAR) || ' kg in ' || compared.case_before
    END AS found
FROM compared
CROSS JOIN check_values
WHERE compared.start_s - compared.start_before_s <= 86400e0 * check_values.weight_days
