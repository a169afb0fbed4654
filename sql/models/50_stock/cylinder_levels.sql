-- cylinder_levels: what the last gauge reading leaves in each machine's oxygen cylinder.
--
-- Grain   one row a machine whose oxygen cylinder was read or changed
-- Reads   stg_equipment, seed_cylinders, seed_stock_units
-- Units   psi; left_l L; read_s, changed_s seconds of UTC since 1970
-- Source  content and pressure of a full cylinder are rows of seed_cylinders (E)
--
-- Rules
--   Oxygen falls in line with pressure: left = full L x psi / full psi. A reading in another unit than psi or
--   bar is not used. A reading belongs to the cylinder in use: one older than the last change is passed over.

WITH

readings AS (
    SELECT
        stg_equipment.machine_id,
        stg_equipment.done_s,
        stg_equipment.action,
        stg_equipment.val * seed_stock_units.factor AS psi,
        stg_equipment.source_file,
        stg_equipment.source_row
    FROM stg_equipment
    LEFT JOIN seed_stock_units
        ON seed_stock_units.spelling = lower(stg_equipment.val_unit)
        AND seed_stock_units.family = 'psi'
    WHERE stg_equipment.item = 'oxygen_cylinder'
),

changed AS (
    SELECT
        machine_id,
        max(CASE WHEN action = 'changed' THEN done_s END) AS changed_s,
        CAST(sum(CASE WHEN action = 'changed' THEN 1 ELSE 0 END) AS BIGINT) AS changes
    FROM readings
    GROUP BY machine_id
),

latest AS (
    SELECT
        readings.machine_id,
        readings.done_s,
        readings.psi,
        row_number() OVER (
            PARTITION BY readings.machine_id
            ORDER BY readings.done_s DESC, readings.source_file DESC, readings.source_row DESC
        ) AS from_last
    FROM readings
    INNER JOIN changed ON changed.machine_id = readings.machine_id
    WHERE readings.psi IS NOT NULL AND readings.done_s >= coalesce(changed.changed_s, 0)
)

SELECT
    changed.machine_id,
    changed.changes,
    changed.changed_s,
    latest.done_s AS read_s,
    latest.psi,
    seed_cylinders.full_l * latest.psi / nullif(seed_cylinders.full_psi, 0e0) AS left_l
FROM changed
INNER JOIN seed_cylinders ON seed_cylinders.cylinder = 'E'
LEFT JOIN latest ON latest.machine_id = changed.machine_id AND latest.from_last = 1
