-- recovery_stages: time from agent off to each stage, with what to make of a stage nobody charted.
--
-- Grain   one row a case with a start and stage
-- Reads   recovery_origins
-- Units   minutes; seen 1 for a charted stage, 0 for a censored one
-- Source  none
-- Built   by case
--
-- Rules
--   status: charted; negative (listed, not assessable); not_applicable (extubation without a tube); no_origin;
--   passed (a later stage is charted, or the animal left alive); lost (died or euthanised: censored then);
--   last_reading (censored at the last charted reading after the origin); unknown.

WITH

stages AS (
    SELECT case_id, 'to_extubation' AS measure, extubation_s AS stage_s,
        coalesce(sternal_s, standing_s, recovery_end_s) AS later_s, has_tube AS applies
    FROM recovery_origins
    UNION ALL
    SELECT case_id, 'to_sternal' AS measure, sternal_s AS stage_s,
        coalesce(standing_s, recovery_end_s) AS later_s, 1 AS applies
    FROM recovery_origins
    UNION ALL
    SELECT case_id, 'to_standing' AS measure, standing_s AS stage_s, recovery_end_s AS later_s, 1 AS applies
    FROM recovery_origins
    UNION ALL
    SELECT case_id, 'to_handover' AS measure, recovery_end_s AS stage_s, recovery_end_s AS later_s, 1 AS applies
    FROM recovery_origins
),

judged AS (
    SELECT
        stages.case_id,
        stages.measure,
        CASE
            WHEN stages.applies = 0 THEN 'not_applicable'
            WHEN recovery_origins.origin_s IS NULL THEN 'no_origin'
            WHEN stages.stage_s < recovery_origins.origin_s THEN 'negative'
            WHEN stages.stage_s IS NOT NULL THEN 'charted'
            WHEN stages.later_s IS NOT NULL OR recovery_origins.left_alive = 1 THEN 'passed'
            WHEN recovery_origins.lost_s < recovery_origins.origin_s THEN 'negative'
            WHEN recovery_origins.lost_s IS NOT NULL THEN 'lost'
            WHEN recovery_origins.last_reading_s > recovery_origins.origin_s THEN 'last_reading'
            ELSE 'unknown'
        END AS status,
        stages.stage_s,
        recovery_origins.lost_s,
        recovery_origins.last_reading_s,
        recovery_origins.origin_s
    FROM stages
    INNER JOIN recovery_origins ON recovery_origins.case_id = stages.case_id
)

SELECT
    case_id,
    measure,
    status,
    CASE
        WHEN status = 'charted' THEN (stage_s - origin_s) / 60e0
        WHEN status = 'lost' THEN (lost_s - origin_s) / 60e0
        WHEN status = 'last_reading' THEN (last_reading_s - origin_s) / 60e0
    END AS minutes,
    CASE WHEN status = 'charted' THEN 1 WHEN status IN ('lost', 'last_reading') THEN 0 END AS seen
FROM judged
