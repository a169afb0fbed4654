-- cases_times_exact: are inductions written to the minute, or to the quarter hour?
--
-- Judges  every month with at least month_cases times of induction
-- Reads   check_cases, check_values
--
-- Rules
--   By chance 4 of 60 minutes are quarters, of times charted to five minutes 4 of 12.

SELECT
    CASE
        WHEN 1e0 * sum(CASE WHEN minute(check_cases.induction_at) % 15 = 0 THEN 1 ELSE 0 END) / count(*)
            > min(check_values.quarter_hour_share) THEN 1
        ELSE 0
    END AS failed,
    CASE
        WHEN failed = 1 THEN 'in ' || strftime(min(check_cases.induction_at), '%Y-%m') || ', '
            || CAST(sum(CASE WHEN minute(check_cases.induction_at) % 15 = 0 THEN 1 ELSE 0 END) AS VARCHAR) || ' of '
            || CAST(count(*) AS VARCHAR) || ' on the quarter hour'
    END AS found
FROM check_cases
CROSS JOIN check_values
WHERE check_cases.induction_at IS NOT NULL
GROUP BY year(check_cases.induction_at), month(check_cases.induction_at)
HAVING count(*) >= min(check_values.month_cases)
