-- vital_groups: all readings of one parameter in one case, in one row.
--
-- Kept    table
-- Grain   one row a case and parameter with a reading: a row that has a time and a value
-- Reads   vitals
-- Units   first_s, last_s seconds of UTC since 1970; lowest, highest in the parameter's unit
--
-- Rules
--   moments_filled counts four-second steps with a row, modulo 128: as many as rows where each has one of its own,
--   which proves that no two stand at one moment. Whole minutes are 15 such steps, so that 128 of them all differ.

SELECT
    case_id,
    parameter,
    count(CASE WHEN taken_at_s IS NOT NULL THEN value END) AS readings,
    count(*) AS charted,
    min(value) AS lowest,
    max(value) AS highest,
    min(taken_at_s) AS first_s,
    max(taken_at_s) AS last_s,
    min(source_file) AS first_file,
    bit_count(CAST(bit_or(CAST(1 AS UHUGEINT) << CAST((taken_at_s >> 2) & 127 AS UHUGEINT)) AS BIT)) AS moments_filled
FROM vitals
GROUP BY case_id, parameter
HAVING count(CASE WHEN taken_at_s IS NOT NULL THEN value END) > 0
