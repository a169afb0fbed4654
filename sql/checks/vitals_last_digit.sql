-- vitals_last_digit: do readings end in 0 more often than chance has it?
--
-- Judges  every recent month and parameter (heart rate and pressures) with at least digit_readings readings
-- Reads   vitals, check_recent, check_values
--
-- Rules
--   By chance one reading in ten ends in 0.

WITH

months AS (
    SELECT
        vitals.parameter,
        strftime(min(vitals.taken_at), '%Y-%m') AS month,
        sum(CASE WHEN floor(vitals.value / 10e0) * 10e0 = vitals.value THEN 1 ELSE 0 END) AS rounded,
        count(*) AS readings
    FROM vitals
    CROSS JOIN check_recent
    WHERE vitals.taken_at_s >= check_recent.from_s AND vitals.value IS NOT NULL
        AND vitals.parameter IN ('heart_rate', 'sap', 'map', 'dap')
    GROUP BY vitals.parameter, year(vitals.taken_at), month(vitals.taken_at)
)

SELECT
    CASE WHEN 1e0 * months.rounded / months.readings > check_values.last_digit_share THEN 1 ELSE 0 END AS failed,
    CASE
        WHEN failed = 1 THEN months.parameter || ' in ' || months.month || ', ' || CAST(months.rounded AS VARCHAR)
            || ' of ' || CAST(months.readings AS VARCHAR) || ' end in 0'
    END AS found
FROM months
CROSS JOIN check_values
WHERE months.readings >= check_values.digit_readings
