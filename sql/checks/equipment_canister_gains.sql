-- equipment_canister_gains: does a scavenging canister only gain weight until it is changed?
--
-- Judges  every weighing of a canister after another of the same canister
-- Reads   equipment, check_values
-- Units   g

WITH

steps AS (
    SELECT
        equipment.*,
        sum(CASE WHEN action = 'changed' THEN 1 ELSE 0 END) OVER (
            PARTITION BY machine_id
            ORDER BY at_s, CASE action WHEN 'changed' THEN 0 ELSE 1 END, source_file, source_row
            ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS canister_no
    FROM equipment
    WHERE item = 'scavenging_canister' AND at_s IS NOT NULL
),

weighings AS (
    SELECT
        steps.*,
        lag(value) OVER (PARTITION BY machine_id, canister_no ORDER BY at_s, source_file, source_row) AS before_g
    FROM steps
    WHERE action = 'weighed' AND unit = 'g' AND value IS NOT NULL
)

SELECT
    CASE WHEN weighings.value < weighings.before_g - check_values.canister_loss_g THEN 1 ELSE 0 END AS failed,
    weighings.source_file,
    weighings.source_row,
    weighings.person,
    CASE
        WHEN failed = 1 THEN weighings.machine_id || ', ' || CAST(weighings.value AS VARCHAR) || ' g after '
            || CAST(weighings.before_g AS VARCHAR) || ' g'
    END AS found
FROM weighings
CROSS JOIN check_values
WHERE weighings.before_g IS NOT NULL
