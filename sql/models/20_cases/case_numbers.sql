-- case_numbers: a number for each case: sorts go by it at half the cost of its text.
--
-- Grain   one row a case with a start
-- Reads   case_windows
-- Units   month_no year x 12 + month - 1; case_no month_no x 100,000,000 + number within the month
-- Source  none
-- Built   as a view
--
-- Rules
--   A number holds within one query, for it is another one when other cases are loaded. No table keeps it.

SELECT
    case_id,
    month_no,
    CAST(month_no AS BIGINT) * 100000000 + row_number() OVER (PARTITION BY month_no ORDER BY case_id) AS case_no
FROM case_windows
