-- cases_asa_by_person: does somebody often leave the ASA class out?
--
-- Judges  every anesthetist with at least person_cases cases
-- Reads   check_cases, check_values

SELECT
    CASE
        WHEN 1e0 * (count(*) - count(check_cases.asa_class)) / count(*) > min(check_values.asa_missing_share) THEN 1
        ELSE 0
    END AS failed,
    check_cases.anesthetist AS person,
    CASE
        WHEN failed = 1 THEN CAST(count(*) - count(check_cases.asa_class) AS VARCHAR) || ' of '
            || CAST(count(*) AS VARCHAR) || ' cases of one person without a class'
    END AS found
FROM check_cases
CROSS JOIN check_values
WHERE check_cases.anesthetist IS NOT NULL
GROUP BY check_cases.anesthetist
HAVING count(*) >= min(check_values.person_cases)
