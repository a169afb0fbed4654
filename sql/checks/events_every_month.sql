-- events_every_month: was charting of events forgotten for a whole month?
--
-- Judges  every month with at least month_cases cases, where events are charted at all
-- Reads   check_cases, events, check_values

SELECT
    CASE WHEN count(charted.case_id) = 0 THEN 1 ELSE 0 END AS failed,
    CASE
        WHEN failed = 1 THEN 'in ' || CAST(check_cases.month_no // 12 AS VARCHAR) || '-'
            || lpad(CAST(check_cases.month_no % 12 + 1 AS VARCHAR), 2, '0') || ', ' || CAST(count(*) AS VARCHAR)
            || ' cases and no event'
    END AS found
FROM check_cases
CROSS JOIN check_values
LEFT JOIN (SELECT DISTINCT case_id FROM events) AS charted ON charted.case_id = check_cases.case_id
WHERE check_cases.month_no IS NOT NULL AND (SELECT count(*) FROM events) > 0
GROUP BY check_cases.month_no
HAVING count(*) >= min(check_values.month_cases)
