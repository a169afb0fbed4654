-- in_file_order: the readings of one parameter as they stand in the files, each with those that stand before it.
--
-- Kept    macro (of)
-- Grain   one row a reading with a value
-- Reads   vitals
-- Units   *_s seconds of UTC since 1970
--
-- Rules
--   Most exports stand by case and in the order of time, so that the row before is the reading before and nothing
--   need be sorted. Where that is not so, groups_in_pieces says so.

SELECT
    case_id,
    parameter,
    taken_at_s,
    value,
    lag(case_id) OVER () AS case_before,
    lag(taken_at_s) OVER () AS before_s,
    lag(value) OVER () AS value_before,
    lag(value, 3) OVER () AS third_before,
    lag(value, 6) OVER () AS sixth_before
FROM vitals
WHERE parameter = of AND value IS NOT NULL
