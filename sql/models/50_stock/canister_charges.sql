-- canister_charges: each scavenging canister: weight gained, hours served, age.
--
-- Grain   one row a machine and canister, from its change to the next
-- Reads   machine_cycles, stg_equipment, record_end, seed_windows
-- Units   gain_g, first_g, last_g g; used_hours h; age_days d; *_s seconds of UTC since 1970
-- Source  gain and hours allowed are rows of seed_windows
--
-- Rules
--   Gain is the last weight in g less the first at or after the change. Spent from the gain on, or past the
--   hours; without two weights the hours decide alone.

WITH

numbers AS (
    SELECT
        max(CASE WHEN name = 'canister_gain_g' THEN val END) AS max_gain_g,
        max(CASE WHEN name = 'canister_max_hours' THEN val END) AS max_hours
    FROM seed_windows
),

canisters AS (
    SELECT machine_id, cycle_no, from_s, to_s, used_s, begin_month_no, end_month_no
    FROM machine_cycles
    WHERE item = 'scavenging_canister'
),

weights AS (
    SELECT
        canisters.machine_id,
        canisters.cycle_no,
        stg_equipment.val,
        row_number() OVER (
            PARTITION BY canisters.machine_id, canisters.cycle_no
            ORDER BY stg_equipment.done_s, stg_equipment.source_file, stg_equipment.source_row
        ) AS from_first,
        row_number() OVER (
            PARTITION BY canisters.machine_id, canisters.cycle_no
            ORDER BY stg_equipment.done_s DESC, stg_equipment.source_file DESC, stg_equipment.source_row DESC
        ) AS from_last
    FROM canisters
    INNER JOIN stg_equipment
        ON stg_equipment.machine_id = canisters.machine_id
        AND stg_equipment.done_s >= canisters.from_s
        AND stg_equipment.done_s < coalesce(canisters.to_s, 9000000000000)
    WHERE stg_equipment.item = 'scavenging_canister'
        AND stg_equipment.val_unit = 'g'
        AND stg_equipment.val IS NOT NULL
),

gains AS (
    SELECT
        machine_id,
        cycle_no,
        count(*) AS weighed,
        max(CASE WHEN from_first = 1 THEN val END) AS first_g,
        max(CASE WHEN from_last = 1 THEN val END) AS last_g
    FROM weights
    GROUP BY machine_id, cycle_no
)

SELECT
    canisters.machine_id,
    canisters.cycle_no,
    canisters.from_s,
    canisters.to_s,
    canisters.begin_month_no,
    canisters.end_month_no,
    canisters.used_s / 3600e0 AS used_hours,
    (coalesce(canisters.to_s, record_end.as_of_s) - canisters.from_s) / 86400e0 AS age_days,
    coalesce(gains.weighed, 0) AS weighed,
    CASE WHEN gains.weighed > 1 THEN gains.last_g - gains.first_g END AS gain_g,
    CASE
        WHEN gains.weighed > 1 AND gains.last_g - gains.first_g >= numbers.max_gain_g THEN 1
        WHEN canisters.used_s > numbers.max_hours * 3600e0 THEN 1
        ELSE 0
    END AS spent
FROM canisters
CROSS JOIN numbers
CROSS JOIN record_end
LEFT JOIN gains ON gains.machine_id = canisters.machine_id AND gains.cycle_no = canisters.cycle_no
