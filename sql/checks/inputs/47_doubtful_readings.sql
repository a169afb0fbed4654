-- doubtful_readings: doubtful_rows with the number of their case and parameter.
--
-- Kept    table
-- Grain   one row of doubtful_rows
-- Reads   doubtful_rows, doubtful_groups
-- Units   value in the parameter's unit; taken_at_s seconds of UTC since 1970

SELECT doubtful_rows.*, doubtful_groups.group_no
FROM doubtful_rows
INNER JOIN doubtful_groups
    ON doubtful_groups.case_id = doubtful_rows.case_id
    AND doubtful_groups.parameter = doubtful_rows.parameter
