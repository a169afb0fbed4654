-- mix_counts: cases and events by month and case mix, for what the mix leads us to expect.
--
-- Grain   one row a month, ASA class, species and emergency
-- Reads   case_shares, case_windows, stg_cases
-- Units   counts of cases
-- Source  none
--
-- Rules
--   $measure: a yes-or-no measure; assessable cases only. Unknown is a level of its own.

SELECT
    case_windows.month_no,
    stg_cases.asa_class,
    stg_cases.species,
    stg_cases.emergency,
    count(*) AS cases,
    CAST(sum(case_shares.has) AS BIGINT) AS events
FROM case_shares
INNER JOIN case_windows ON case_windows.case_id = case_shares.case_id
INNER JOIN stg_cases ON stg_cases.case_id = case_shares.case_id
WHERE case_shares.measure = $measure
    AND case_shares.assessable = 1
GROUP BY case_windows.month_no, stg_cases.asa_class, stg_cases.species, stg_cases.emergency
ORDER BY case_windows.month_no, stg_cases.asa_class, stg_cases.species, stg_cases.emergency
