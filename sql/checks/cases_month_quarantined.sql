-- cases_month_quarantined: is a month whole, or do too many of its cases wait to be mended?
--
-- Judges  every month with a case, loaded or waiting
-- Reads   check_cases, check_quarantine, check_values

WITH

months AS (
    SELECT month_no, count(*) AS loaded, 0 AS waiting
    FROM check_cases
    WHERE month_no IS NOT NULL
    GROUP BY month_no
    UNION ALL
    SELECT month_no, 0 AS loaded, count(DISTINCT file_id || ':' || row) AS waiting
    FROM check_quarantine
    WHERE table_name = 'cases' AND month_no IS NOT NULL
    GROUP BY month_no
)

SELECT
    CASE
        WHEN 1e0 * sum(months.waiting) / sum(months.loaded + months.waiting) > min(check_values.quarantine_max_share)
            THEN 1
        ELSE 0
    END AS failed,
    CASE
        WHEN failed = 1 THEN 'in ' || CAST(months.month_no // 12 AS VARCHAR) || '-'
            || lpad(CAST(months.month_no % 12 + 1 AS VARCHAR), 2, '0') || ', ' || CAST(sum(months.waiting) AS VARCHAR)
            || ' of ' || CAST(sum(months.loaded + months.waiting) AS VARCHAR) || ' cases wait in to_fix'
    END AS found
FROM months
CROSS JOIN check_values
GROUP BY months.month_no
