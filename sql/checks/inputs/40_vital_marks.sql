-- vital_marks: readings of heart rate and pressures gathered on five-minute marks, as a sheet has them.
--
-- Kept    table
-- Grain   one row a case, parameter and five minutes with a reading
-- Reads   vitals
-- Units   mark five minutes since 1970; first_s, last_s seconds of UTC since 1970
--
-- Rules
--   Two readings more than five minutes apart never share a mark, so a gap shows between marks.

SELECT
    case_id,
    parameter,
    taken_at_s // 300 AS mark,
    count(*) AS readings,
    min(value) AS lowest,
    max(value) AS highest,
    min(taken_at_s) AS first_s,
    max(taken_at_s) AS last_s
FROM vitals
WHERE value IS NOT NULL AND parameter IN ('heart_rate', 'sap', 'map', 'dap')
GROUP BY case_id, parameter, mark
