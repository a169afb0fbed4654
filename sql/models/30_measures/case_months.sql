-- case_months: cases of each site and month, from which the periods of the results are made.
--
-- Grain   one row a site and month with a case; a case without a site belongs to the site ''
-- Reads   case_windows
-- Units   cases; month_no year x 12 + month - 1
-- Source  none

SELECT
    coalesce(site, '') AS site,
    month_no,
    count(*) AS cases
FROM case_windows
GROUP BY coalesce(site, ''), month_no
