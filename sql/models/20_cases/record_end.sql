-- record_end: the latest time in any loaded row, which stands for now.
--
-- Grain   one row
-- Reads   cases, case_people, vitals, drugs, events, equipment, stock
-- Units   as_of_s seconds of UTC since 1970
-- Source  none
--
-- Rules
--   Every time counts, also outcome and followed until; expiry dates do not.

WITH

times AS (
    SELECT
        max(greatest(
            coalesce(premed_at_s, 0), coalesce(preoxygenation_start_at_s, 0), coalesce(induction_at_s, 0),
            coalesce(intubation_at_s, 0), coalesce(vaporizer_on_at_s, 0), coalesce(procedure_start_at_s, 0),
            coalesce(procedure_end_at_s, 0), coalesce(vaporizer_off_at_s, 0), coalesce(ventilator_off_at_s, 0),
            coalesce(spontaneous_breathing_at_s, 0), coalesce(extubation_at_s, 0), coalesce(sternal_at_s, 0),
            coalesce(standing_at_s, 0), coalesce(recovery_end_at_s, 0), coalesce(outcome_at_s, 0),
            coalesce(followed_until_s, 0)
        )) AS latest_s
    FROM cases
    UNION ALL
    SELECT max(greatest(coalesce(from_at_s, 0), coalesce(to_at_s, 0))) AS latest_s
    FROM case_people
    UNION ALL
    SELECT max(taken_at_s) AS latest_s
    FROM vitals
    UNION ALL
    SELECT max(greatest(coalesce(given_at_s, 0), coalesce(stopped_at_s, 0))) AS latest_s
    FROM drugs
    UNION ALL
    SELECT max(greatest(coalesce(occurred_at_s, 0), coalesce(resolved_at_s, 0))) AS latest_s
    FROM events
    UNION ALL
    SELECT max(at_s) AS latest_s
    FROM equipment
    UNION ALL
    SELECT max(at_s) AS latest_s
    FROM stock
)

SELECT max(latest_s) AS as_of_s
FROM times
