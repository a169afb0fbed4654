-- doubtful_readings: the readings that some rule must look at one by one.
--
-- Kept    table
-- Grain   one row of vitals, of a doubtful case and parameter
-- Reads   vitals, doubtful_groups
-- Units   value in the parameter's unit; taken_at_s seconds of UTC since 1970

SELECT vitals.*, doubtful_groups.group_no
FROM vitals
INNER JOIN doubtful_groups
    ON doubtful_groups.case_id = vitals.case_id
    AND doubtful_groups.parameter = vitals.parameter
