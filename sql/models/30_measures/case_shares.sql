-- case_shares: every measure that a case has or has not.
--
-- Grain   one row a case with a start and measure; a case without a row could not be judged
-- Reads   case_exposures, case_charting, case_temperature_bands, case_complications, case_deaths, case_agreement, recovery_stages, case_absorbent, case_canister, seed_windows
-- Units   assessable, has 0 or 1; has NULL where not assessable
-- Source  the minutes of a prolonged recovery are a row of seed_windows
-- Built   as a view
--
-- Rules
--   prolonged_recovery: sternal later than the limit, or censored at or after it; censored before: not assessable.
--   euthanasia_48h has every case in its denominator.

WITH

numbers AS (
    SELECT max(CASE WHEN name = 'prolonged_recovery_min' THEN val END) AS prolonged_min
    FROM seed_windows
),

prolonged AS (
    SELECT
        recovery_stages.case_id,
        CASE
            WHEN recovery_stages.seen = 1 OR recovery_stages.minutes >= numbers.prolonged_min THEN 1
            ELSE 0
        END AS assessable,
        CASE
            WHEN recovery_stages.seen = 1 AND recovery_stages.minutes <= numbers.prolonged_min THEN 0
            ELSE 1
        END AS has
    FROM recovery_stages
    CROSS JOIN numbers
    WHERE recovery_stages.measure = 'to_sternal'
)

SELECT case_id, measure, assessable, has FROM case_exposures
UNION ALL
SELECT case_id, 'charting_gap' AS measure, assessable, has FROM case_charting
UNION ALL
SELECT case_id, measure, assessable, has FROM case_temperature_bands
UNION ALL
SELECT case_id, measure, assessable, has FROM case_complications
UNION ALL
SELECT case_id, 'death_48h' AS measure, death_assessable AS assessable,
    CASE WHEN death_assessable = 0 THEN NULL WHEN fate = 'died' THEN 1 ELSE 0 END AS has
FROM case_deaths
UNION ALL
SELECT case_id, 'euthanasia_48h' AS measure, 1 AS assessable, euthanised_48h AS has FROM case_deaths
UNION ALL
SELECT case_id, concat('agreement_', measure, '_both') AS measure, 1 AS assessable,
    detected * charted AS has
FROM case_agreement
UNION ALL
SELECT case_id, concat('agreement_', measure, '_detected_only') AS measure, 1 AS assessable,
    detected * (1 - charted) AS has
FROM case_agreement
UNION ALL
SELECT case_id, concat('agreement_', measure, '_charted_only') AS measure, 1 AS assessable,
    (1 - detected) * charted AS has
FROM case_agreement
UNION ALL
SELECT case_id, 'prolonged_recovery' AS measure, assessable, CASE WHEN assessable = 1 THEN has END AS has
FROM prolonged
UNION ALL
SELECT case_id, 'absorbent_overdue' AS measure, assessable, overdue AS has FROM case_absorbent
UNION ALL
SELECT case_id, 'canister_overdue' AS measure, assessable, overdue AS has FROM case_canister
