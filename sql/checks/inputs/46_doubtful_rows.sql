-- doubtful_rows: the readings that some rule must look at one by one.
--
-- Kept    table
-- Grain   one row of vitals, of a doubtful case and parameter
-- Reads   vitals, doubtful_groups
-- Units   value in the parameter's unit; taken_at_s seconds of UTC since 1970
--
-- Rules
--   A step of its own, for DuckDB finds few rows among many twice as fast by IN as by a join.

SELECT *
FROM vitals
WHERE (case_id, parameter) IN (SELECT (case_id, parameter) FROM doubtful_groups)
