-- recorded_sites: the sites at which complications are charted.
--
-- Grain   one row a site; cases without a site are of the site ''
-- Reads   stg_cases, stg_events, seed_event_recording
-- Units   none
-- Source  seed_event_recording holds the clinic's [events] settings
-- Built   before cases
--
-- Rules
--   A site that has any event row or that the settings name.

SELECT coalesce(stg_cases.site, '') AS site
FROM stg_events
INNER JOIN stg_cases ON stg_cases.case_id = stg_events.case_id
UNION
SELECT coalesce(seed_event_recording.site, '') AS site
FROM seed_event_recording
WHERE seed_event_recording.site IS NOT NULL
