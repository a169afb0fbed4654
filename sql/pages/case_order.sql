-- case_order: every assessable case of a measure in time order, with its mix.
--
-- Grain   one row a case
-- Reads   case_shares, case_windows, stg_cases
-- Units   has 0 or 1
-- Source  none
--
-- Rules
--   $measure: a yes-or-no measure; $first, $last: month numbers, both inside.

SELECT
    case_windows.month_no,
    stg_cases.asa_class,
    stg_cases.species,
    stg_cases.emergency,
    coalesce(stg_cases.machine_id, 'not recorded') AS machine_id,
    case_shares.has
FROM case_shares
INNER JOIN case_windows ON case_windows.case_id = case_shares.case_id
INNER JOIN stg_cases ON stg_cases.case_id = case_shares.case_id
WHERE case_shares.measure = $measure
    AND case_shares.assessable = 1
    AND case_windows.month_no BETWEEN $first AND $last
ORDER BY case_windows.start_s, case_windows.case_id
