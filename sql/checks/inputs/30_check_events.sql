-- check_events: every row of events with the case it names.
--
-- Kept    view
-- Grain   one row of events
-- Reads   events, check_cases, check_values, check_files
-- Units   *_s seconds of UTC since 1970

SELECT
    events.*,
    one_case.case_id AS known_case,
    one_case.from_s,
    one_case.to_s,
    check_files.loaded_s
FROM events
LEFT JOIN (
    SELECT
        check_cases.case_id,
        min(check_cases.first_s) - CAST(min(check_values.event_margin_h) AS BIGINT) * 3600 AS from_s,
        max(check_cases.last_s) + CAST(min(check_values.event_margin_h) AS BIGINT) * 3600 AS to_s
    FROM check_cases
    CROSS JOIN check_values
    GROUP BY check_cases.case_id
) AS one_case ON one_case.case_id = events.case_id
LEFT JOIN check_files ON check_files.file_id = events.source_file
