-- case_ratios: every measure that is a ratio of sums over cases.
--
-- Grain   one row an assessable case and measure
-- Reads   case_exposures
-- Units   top and bottom minutes
-- Source  none
-- Built   as a view

SELECT case_id, concat(measure, '_time_share') AS measure, beyond_min AS top, observed_min AS bottom
FROM case_exposures
WHERE assessable = 1
