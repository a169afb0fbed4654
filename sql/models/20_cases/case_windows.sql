-- case_windows: when the anesthetic began, when it and the recovery ended.
--
-- Grain   one row an anesthetic with a start
-- Reads   stg_cases, stg_vitals
-- Units   *_s seconds of UTC since 1970; window_s seconds, NULL where end is missing or not after start
-- Source  none
-- Built   by case
--
-- Rules
--   End is extubation, else vaporizer off, else the last charted reading from start up to the first of
--   sternal, standing, handover (then end_estimated).
--   Recovery ends with handover, else standing, else the last reading; never before end.

WITH

begun AS (
    SELECT
        stg_cases.case_id,
        stg_cases.site,
        stg_cases.start_s,
        stg_cases.start_day,
        stg_cases.start_month_no,
        coalesce(stg_cases.extubation_s, stg_cases.vaporizer_off_s) AS charted_end_s,
        least(
            coalesce(stg_cases.sternal_s, 9000000000000),
            coalesce(stg_cases.standing_s, 9000000000000),
            coalesce(stg_cases.recovery_end_s, 9000000000000)
        ) AS first_stage_s,
        coalesce(stg_cases.recovery_end_s, stg_cases.standing_s) AS charted_recovery_end_s
    FROM stg_cases
    WHERE stg_cases.start_s IS NOT NULL
),

last_readings AS (
    SELECT
        begun.case_id,
        max(stg_vitals.taken_s) AS last_reading_s,
        max(
            CASE
                WHEN stg_vitals.taken_s >= begun.start_s AND stg_vitals.taken_s <= begun.first_stage_s
                    THEN stg_vitals.taken_s
            END
        ) AS last_in_case_s
    FROM begun
    INNER JOIN stg_vitals ON stg_vitals.case_id = begun.case_id
    GROUP BY begun.case_id
),

ended AS (
    SELECT
        begun.case_id,
        begun.site,
        begun.start_s,
        begun.start_day,
        begun.start_month_no,
        coalesce(begun.charted_end_s, last_readings.last_in_case_s) AS end_s,
        CASE WHEN begun.charted_end_s IS NULL AND last_readings.last_in_case_s IS NOT NULL THEN 1 ELSE 0 END
            AS end_estimated,
        coalesce(begun.charted_recovery_end_s, last_readings.last_reading_s) AS recovery_end_s,
        last_readings.last_reading_s
    FROM begun
    LEFT JOIN last_readings ON last_readings.case_id = begun.case_id
)

SELECT
    ended.case_id,
    ended.site,
    ended.start_s,
    ended.start_day,
    ended.start_month_no AS month_no,
    ended.end_s,
    ended.end_estimated,
    CASE WHEN ended.end_s > ended.start_s THEN ended.end_s - ended.start_s END AS window_s,
    CASE WHEN ended.end_s > ended.start_s THEN (ended.end_s - ended.start_s) / 60e0 END AS anesthesia_min,
    CASE WHEN ended.recovery_end_s > ended.end_s THEN ended.recovery_end_s ELSE ended.end_s END AS recovery_end_s,
    ended.last_reading_s
FROM ended
