-- cases_asa_drift_by_person: does somebody give other ASA classes than before?
--
-- Judges  every anesthetist with at least person_cases classed cases in the last recent_days and before them
-- Reads   check_cases, check_recent, check_values
--
-- Rules
--   The mean class of the last days is held against the person's own before. A drift may be the cases' and not
--   the person's: the rule asks for a look, it accuses nobody.

WITH

dated AS (
    SELECT
        check_cases.anesthetist,
        check_cases.asa_class,
        CASE WHEN check_cases.start_s >= check_recent.from_s THEN 1 ELSE 0 END AS recent
    FROM check_cases
    CROSS JOIN check_recent
    WHERE check_cases.anesthetist IS NOT NULL AND check_cases.asa_class IS NOT NULL
),

means AS (
    SELECT
        anesthetist,
        sum(recent) AS recent_cases,
        count(*) - sum(recent) AS earlier_cases,
        avg(CASE WHEN recent = 1 THEN asa_class END) AS recent_mean,
        avg(CASE WHEN recent = 0 THEN asa_class END) AS earlier_mean
    FROM dated
    GROUP BY anesthetist
)

SELECT
    CASE WHEN abs(means.recent_mean - means.earlier_mean) > check_values.asa_drift_classes THEN 1 ELSE 0 END AS failed,
    means.anesthetist AS person,
    CASE
        WHEN failed = 1 THEN 'mean class of one person '
            || CAST(floor(means.earlier_mean * 100e0 + 0.5e0) / 100e0 AS VARCHAR) || ' before, '
            || CAST(floor(means.recent_mean * 100e0 + 0.5e0) / 100e0 AS VARCHAR) || ' lately'
    END AS found
FROM means
CROSS JOIN check_values
WHERE means.recent_cases >= check_values.person_cases AND means.earlier_cases >= check_values.person_cases
