-- discussion_cases: the cases that a stated rule puts forward for discussion.
--
-- Grain   one row a case, rule and measure
-- Reads   case_windows, case_deaths, stg_events, case_exposures, case_agreement, case_shares, case_temperatures, case_stages, seed_discussion
-- Units   amount minutes, or the parameter's unit x minutes (furthest), or °C (coldest); NULL for a charted fact
-- Source  rules and limits are rows of seed_discussion
--
-- Rules
--   $month: month number. within: 1 is its foremost case by that rule and measure; equal ones by case number.

WITH

found AS (
    SELECT case_id, 'death' AS rule, '' AS measure, CAST(NULL AS DOUBLE) AS amount, 0e0 AS rank_by
    FROM case_deaths
    WHERE fate = 'died'
    UNION ALL
    SELECT DISTINCT case_id, 'grave_event', event, NULL, 0e0
    FROM stg_events
    UNION ALL
    SELECT DISTINCT case_id, 'severe_event', '', NULL, 0e0
    FROM stg_events
    WHERE severity = 'severe'
    UNION ALL
    SELECT case_id, 'furthest', measure, area, -area
    FROM case_exposures
    WHERE has = 1
    UNION ALL
    SELECT case_exposures.case_id, 'not_charted', case_exposures.measure, beyond_min, -beyond_min
    FROM case_exposures
    INNER JOIN case_agreement
        ON case_agreement.case_id = case_exposures.case_id
        AND case_agreement.measure = case_exposures.measure
        AND case_agreement.detected = 1
        AND case_agreement.charted = 0
    UNION ALL
    SELECT case_temperatures.case_id, 'coldest', 'hypothermia_severe', lowest, lowest
    FROM case_temperatures
    INNER JOIN case_shares
        ON case_shares.case_id = case_temperatures.case_id
        AND case_shares.measure = 'hypothermia_severe'
        AND case_shares.has = 1
    UNION ALL
    SELECT case_stages.case_id, 'slow_recovery', 'prolonged_recovery', minutes, -minutes
    FROM case_stages
    INNER JOIN case_shares
        ON case_shares.case_id = case_stages.case_id
        AND case_shares.measure = 'prolonged_recovery'
        AND case_shares.has = 1
    WHERE case_stages.measure = 'to_sternal'
)

SELECT
    found.case_id,
    found.rule,
    found.measure,
    found.amount,
    seed_discussion.sentence,
    CAST(seed_discussion.place AS BIGINT) AS place,
    CAST(seed_discussion.most AS BIGINT) AS most,
    row_number() OVER (
        PARTITION BY found.rule, found.measure
        ORDER BY found.rank_by, found.case_id
    ) AS within
FROM found
INNER JOIN case_windows ON case_windows.case_id = found.case_id
INNER JOIN seed_discussion
    ON seed_discussion.rule = found.rule
    AND coalesce(seed_discussion.measure, '') = found.measure
WHERE case_windows.month_no = $month
    AND (found.amount IS NULL OR found.rule = 'coldest' OR found.amount > CAST(seed_discussion.over AS DOUBLE))
