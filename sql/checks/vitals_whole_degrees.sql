-- vitals_whole_degrees: are temperatures rounded to whole degrees?
--
-- Judges  every month and parameter (temperature) with at least digit_readings readings
-- Reads   vital_groups, check_cases, check_values
--
-- Rules
--   By chance one temperature in ten, charted to a tenth, is a whole degree.

WITH

months AS (
    SELECT
        vital_groups.parameter,
        one_case.month_no,
        sum(vital_groups.wholes) AS rounded,
        sum(vital_groups.filled) AS readings
    FROM vital_groups
    INNER JOIN (SELECT case_id, min(month_no) AS month_no FROM check_cases GROUP BY case_id) AS one_case
        ON one_case.case_id = vital_groups.case_id
    WHERE vital_groups.parameter IN ('temperature') AND one_case.month_no IS NOT NULL
    GROUP BY vital_groups.parameter, one_case.month_no
)

SELECT
    CASE WHEN 1e0 * months.rounded / nullif(months.readings, 0) > check_values.whole_degree_share THEN 1 ELSE 0 END AS failed,
    months.parameter || ' in ' || CAST(months.month_no // 12 AS VARCHAR) || '-'
        || lpad(CAST(months.month_no % 12 + 1 AS VARCHAR), 2, '0') || ', '
        || CAST(months.rounded AS VARCHAR) || ' of ' || CAST(months.readings AS VARCHAR) || ' in whole degrees' AS found
FROM months
CROSS JOIN check_values
WHERE months.readings >= check_values.digit_readings
