-- leak_tests: leak tests done and failed, for all machines and each.
--
-- Grain   one row a period, grouping column and level with a leak test
-- Reads   stg_equipment, report_periods, seed_windows
-- Units   tests
-- Source  the flow that may be needed is a row of seed_windows
--
-- Rules
--   Failed above the limit. A test in another unit or without a value cannot be judged.
--   Tests outside the months with cases stand only in the period of all.

WITH

numbers AS (
    SELECT max(CASE WHEN name = 'leak_max_ml_min' THEN val END) AS leak_max
    FROM seed_windows
),

tests AS (
    SELECT
        stg_equipment.machine_id,
        stg_equipment.month_no,
        CASE WHEN lower(stg_equipment.val_unit) = 'ml/min' THEN stg_equipment.val END AS leak_ml_min
    FROM stg_equipment
    WHERE stg_equipment.action = 'leak_tested'
),

grouped AS (
    SELECT 'all' AS by_column, 'all' AS level_text, month_no, leak_ml_min FROM tests
    UNION ALL
    SELECT 'machine_id' AS by_column, machine_id AS level_text, month_no, leak_ml_min FROM tests
)

SELECT
    report_periods.period,
    grouped.by_column,
    grouped.level_text,
    count(*) AS n,
    count(grouped.leak_ml_min) AS assessable,
    CAST(sum(CASE WHEN grouped.leak_ml_min > numbers.leak_max THEN 1 ELSE 0 END) AS BIGINT) AS having_it
FROM grouped
CROSS JOIN numbers
INNER JOIN report_periods
    ON report_periods.kind = 'all'
    OR (grouped.month_no >= report_periods.from_month_no AND grouped.month_no <= report_periods.to_month_no)
GROUP BY report_periods.period, grouped.by_column, grouped.level_text
