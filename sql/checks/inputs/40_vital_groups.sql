-- vital_groups: all readings of one parameter in one case, in one row.
--
-- Kept    table
-- Grain   one row a case and parameter
-- Reads   vitals
-- Units   first_s, last_s seconds of UTC since 1970; lowest, highest in the parameter's unit
--
-- Rules
--   minutes_filled counts clock minutes of the day with a reading: as many as readings where each has its own.
--   tens are readings that end in 0, wholes those without decimals.

SELECT
    case_id,
    parameter,
    count(*) AS readings,
    count(value) AS filled,
    min(value) AS lowest,
    max(value) AS highest,
    min(taken_at_s) AS first_s,
    max(taken_at_s) AS last_s,
    sum(CASE WHEN value % 10e0 = 0e0 THEN 1 ELSE 0 END) AS tens,
    sum(CASE WHEN value % 1e0 = 0e0 THEN 1 ELSE 0 END) AS wholes,
    bit_count(bitstring_agg((taken_at_s // 60) % 1440, 0, 1439)) AS minutes_filled
FROM vitals
WHERE case_id IS NOT NULL AND parameter IS NOT NULL AND taken_at_s IS NOT NULL
GROUP BY case_id, parameter
