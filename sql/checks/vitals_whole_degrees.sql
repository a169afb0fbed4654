-- vitals_whole_degrees: are temperatures rounded to whole degrees?
--
-- Judges  every recent month and parameter (temperature) with at least digit_readings readings
-- Reads   vitals, check_recent, check_values
--
-- Rules
--   By chance one temperature in ten, charted to a tenth, is a whole degree.

WITH

months AS (
    SELECT
        vitals.parameter,
        strftime(min(vitals.taken_at), '%Y-%m') AS month,
        sum(CASE WHEN floor(vitals.value) = vitals.value THEN 1 ELSE 0 END) AS rounded,
        count(*) AS readings
    FROM vitals
    CROSS JOIN check_recent
    WHERE vitals.taken_at_s >= check_recent.from_s AND vitals.value IS NOT NULL
        AND vitals.parameter IN ('temperature')
    GROUP BY vitals.parameter, year(vitals.taken_at), month(vitals.taken_at)
)

SELECT
    CASE WHEN 1e0 * months.rounded / months.readings > check_values.whole_degree_share THEN 1 ELSE 0 END AS failed,
    CASE
        WHEN failed = 1 THEN months.parameter || ' in ' || months.month || ', ' || CAST(months.rounded AS VARCHAR)
            || ' of ' || CAST(months.readings AS VARCHAR) || ' in whole degrees'
    END AS found
FROM months
CROSS JOIN check_values
WHERE months.readings >= check_values.digit_readings
