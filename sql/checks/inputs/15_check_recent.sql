-- check_recent: from when on records are recent, so that a habit is judged by what was done lately.
--
-- Kept    table
-- Grain   one row
-- Reads   check_cases, check_values
-- Units   from_s seconds of UTC since 1970; NULL without cases
--
-- Rules
--   recent_days before the latest start that is not later than the day its file was loaded.

SELECT max(check_cases.start_s) - CAST(max(check_values.recent_days) AS BIGINT) * 86400 AS from_s
FROM check_cases
CROSS JOIN check_values
WHERE check_cases.start_s <= coalesce(check_cases.loaded_s, check_cases.start_s)
