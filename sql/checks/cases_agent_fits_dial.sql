-- cases_agent_fits_dial: is a case without an inhalant also without an open vaporizer?
--
-- Judges  every case whose agent is none and that has readings of the dial
-- Reads   check_cases, vital_groups

SELECT
    CASE WHEN vital_groups.highest > 0e0 THEN 1 ELSE 0 END AS failed,
    check_cases.case_id,
    check_cases.source_file,
    check_cases.source_row,
    CASE WHEN failed = 1 THEN 'agent none, dial up to ' || CAST(vital_groups.highest AS VARCHAR) || ' %' END AS found
FROM check_cases
INNER JOIN vital_groups
    ON vital_groups.case_id = check_cases.case_id AND vital_groups.parameter = 'vaporizer_setting'
WHERE check_cases.agent = 'none' AND vital_groups.highest IS NOT NULL
