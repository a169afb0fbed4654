-- recovery_origins: the moment recovery is counted from, and what is known of the animal after it.
--
-- Grain   one row a case with a start
-- Reads   case_windows, stg_cases, stg_drugs, seed_hypnotics, seed_windows
-- Units   *_s seconds of UTC since 1970
-- Source  hypnotics are the clinic's [recovery] setting
-- Built   by case
--
-- Rules
--   Origin is vaporizer off; without an inhalant the last stop of a maintenance infusion of a hypnotic.
--   lost_s: when an animal that died or was euthanised within the death window of the end was lost.
--   left_alive: outcome alive, or handed back to the ward.

WITH

numbers AS (
    SELECT CAST(floor(3600e0 * max(CASE WHEN name = 'death_window_h' THEN val END)) AS BIGINT) AS death_window_s
    FROM seed_windows
),

infusions AS (
    SELECT stg_drugs.case_id, max(stg_drugs.stopped_s) AS stopped_s
    FROM stg_drugs
    INNER JOIN seed_hypnotics ON seed_hypnotics.drug = stg_drugs.drug
    WHERE stg_drugs.kind = 'infusion' AND stg_drugs.phase = 'maintenance'
    GROUP BY stg_drugs.case_id
)

SELECT
    case_windows.case_id,
    CASE WHEN stg_cases.agent = 'none' THEN infusions.stopped_s ELSE stg_cases.vaporizer_off_s END AS origin_s,
    CASE
        WHEN stg_cases.outcome IN ('died', 'euthanised')
            AND stg_cases.outcome_s <= case_windows.end_s + numbers.death_window_s
            THEN stg_cases.outcome_s
    END AS lost_s,
    CASE WHEN stg_cases.outcome = 'alive' OR stg_cases.recovery_end_s IS NOT NULL THEN 1 ELSE 0 END AS left_alive,
    case_windows.last_reading_s,
    CASE WHEN stg_cases.airway = 'tracheal_tube' THEN 1 ELSE 0 END AS has_tube,
    stg_cases.extubation_s,
    stg_cases.sternal_s,
    stg_cases.standing_s,
    stg_cases.recovery_end_s
FROM case_windows
CROSS JOIN numbers
INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
LEFT JOIN infusions ON infusions.case_id = case_windows.case_id
