-- absorbent_charges: each charge of absorbent: hours, marks, age, carbon dioxide taken up, what got through.
--
-- Grain   one row a machine and charge, from its change to the next
-- Reads   machine_cycles, machine_clock, stg_equipment, stg_cases, case_exposures, record_end, seed_windows
-- Units   used_hours h; age_days d; marks counts; co2_l, bound_l L; grams g; *_s seconds of UTC since 1970
-- Source  output and capacity of CO2, minutes a mark and what is overdue are rows of seed_windows
--
-- Rules
--   marks_expected = floor(minutes / minutes a mark). Output is 8 x kg^0.75 mL/min for as long as each case of
--   known weight ran; weight unknown: known_hours says for how much it is known. The bound is grams / 100 x 12 L;
--   grams the change's value, else the setting. A case with inspired CO2 above its limit counts as evidence.

WITH

numbers AS (
    SELECT
        max(CASE WHEN name = 'absorbent_minutes_per_mark' THEN val END) AS minutes_per_mark,
        max(CASE WHEN name = 'absorbent_grams' THEN val END) AS grams,
        max(CASE WHEN name = 'co2_output_ml_kg075_min' THEN val END) AS co2_ml_kg075_min,
        max(CASE WHEN name = 'co2_capacity_l_per_100g' THEN val END) AS capacity_l,
        max(CASE WHEN name = 'absorbent_max_hours' THEN val END) AS max_hours,
        max(CASE WHEN name = 'absorbent_max_days' THEN val END) AS max_days
    FROM seed_windows
),

charges AS (
    SELECT machine_id, cycle_no, from_s, to_s, used_s, grams, begin_month_no, end_month_no
    FROM machine_cycles
    WHERE item = 'absorbent'
),

marks AS (
    SELECT charges.machine_id, charges.cycle_no, count(*) AS marks
    FROM charges
    INNER JOIN stg_equipment
        ON stg_equipment.machine_id = charges.machine_id
        AND stg_equipment.done_s >= charges.from_s
        AND stg_equipment.done_s < coalesce(charges.to_s, 9000000000000)
    WHERE stg_equipment.item = 'absorbent' AND stg_equipment.action = 'marked'
    GROUP BY charges.machine_id, charges.cycle_no
),

cases_on AS (
    SELECT
        charges.machine_id,
        charges.cycle_no,
        machine_clock.case_id,
        least(machine_clock.to_s, coalesce(charges.to_s, 9000000000000))
            - greatest(machine_clock.from_s, charges.from_s) AS on_s,
        stg_cases.weight_kg,
        rebreathing.assessable,
        rebreathing.has
    FROM charges
    INNER JOIN machine_clock
        ON machine_clock.machine_id = charges.machine_id
        AND machine_clock.to_s > charges.from_s
        AND machine_clock.from_s < coalesce(charges.to_s, 9000000000000)
    INNER JOIN stg_cases ON stg_cases.case_id = machine_clock.case_id
    LEFT JOIN case_exposures AS rebreathing
        ON rebreathing.case_id = machine_clock.case_id
        AND rebreathing.measure = 'rebreathing'
    WHERE machine_clock.item = 'absorbent' AND machine_clock.is_change = 0
),

loads AS (
    SELECT
        cases_on.machine_id,
        cases_on.cycle_no,
        count(*) AS cases,
        sum(CASE WHEN cases_on.weight_kg IS NOT NULL THEN cases_on.on_s ELSE 0 END) / 3600e0 AS known_hours,
        sum(numbers.co2_ml_kg075_min * power(cases_on.weight_kg, 0.75e0) * cases_on.on_s / 60e0) / 1000e0 AS co2_l,
        CAST(sum(CASE WHEN cases_on.assessable = 1 THEN 1 ELSE 0 END) AS BIGINT) AS co2_judged,
        CAST(sum(CASE WHEN cases_on.assessable = 1 AND cases_on.has = 1 THEN 1 ELSE 0 END) AS BIGINT) AS co2_seen
    FROM cases_on
    CROSS JOIN numbers
    GROUP BY cases_on.machine_id, cases_on.cycle_no
)

SELECT
    charges.machine_id,
    charges.cycle_no,
    charges.from_s,
    charges.to_s,
    charges.begin_month_no,
    charges.end_month_no,
    charges.used_s / 3600e0 AS used_hours,
    (coalesce(charges.to_s, record_end.as_of_s) - charges.from_s) / 86400e0 AS age_days,
    coalesce(marks.marks, 0) AS marks,
    CAST(floor(charges.used_s / 60e0 / nullif(numbers.minutes_per_mark, 0e0)) AS BIGINT) AS marks_expected,
    coalesce(loads.cases, 0) AS cases,
    loads.known_hours,
    loads.co2_l,
    coalesce(charges.grams, numbers.grams) AS grams,
    coalesce(charges.grams, numbers.grams) / 100e0 * numbers.capacity_l AS bound_l,
    coalesce(loads.co2_judged, 0) AS co2_judged,
    coalesce(loads.co2_seen, 0) AS co2_seen,
    CASE
        WHEN charges.used_s > numbers.max_hours * 3600e0 THEN 1
        WHEN coalesce(charges.to_s, record_end.as_of_s) - charges.from_s > numbers.max_days * 86400e0 THEN 1
        ELSE 0
    END AS overdue
FROM charges
CROSS JOIN numbers
CROSS JOIN record_end
LEFT JOIN marks ON marks.machine_id = charges.machine_id AND marks.cycle_no = charges.cycle_no
LEFT JOIN loads ON loads.machine_id = charges.machine_id AND loads.cycle_no = charges.cycle_no
