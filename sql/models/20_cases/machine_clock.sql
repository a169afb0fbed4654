-- machine_clock: hours each machine's absorbent and canister have served, at every case and change.
--
-- Grain   one row a case that uses the item, and one a moment the item was changed
-- Reads   case_windows, stg_cases, stg_equipment, seed_agents
-- Units   *_s seconds; from_s, to_s, changed_s seconds of UTC since 1970; used_before_s seconds of use up to from_s
-- Source  none
--
-- Rules
--   Absorbent serves cases with a rebreathing system, the canister cases with an inhalant, on a known machine,
--   from start to end. Time in two cases at once counts once, in the case that began first (own_from_s).
--   A case without a usable end is a point: it is judged, its minutes add nothing.

WITH

uses AS (
    SELECT
        'absorbent' AS item,
        stg_cases.machine_id,
        case_windows.case_id,
        case_windows.start_s AS from_s,
        case_windows.start_s + coalesce(case_windows.window_s, 0) AS to_s,
        0 AS is_change
    FROM case_windows
    INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
    WHERE stg_cases.machine_id IS NOT NULL AND stg_cases.breathing_system = 'rebreathing'
    UNION ALL
    SELECT
        'scavenging_canister' AS item,
        stg_cases.machine_id,
        case_windows.case_id,
        case_windows.start_s AS from_s,
        case_windows.start_s + coalesce(case_windows.window_s, 0) AS to_s,
        0 AS is_change
    FROM case_windows
    INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
    INNER JOIN seed_agents ON seed_agents.agent = stg_cases.agent
    WHERE stg_cases.machine_id IS NOT NULL
    UNION ALL
    SELECT DISTINCT
        stg_equipment.item,
        stg_equipment.machine_id,
        '' AS case_id,
        stg_equipment.done_s AS from_s,
        stg_equipment.done_s AS to_s,
        1 AS is_change
    FROM stg_equipment
    WHERE stg_equipment.action = 'changed'
        AND stg_equipment.item IN ('absorbent', 'scavenging_canister')
),

ordered AS (
    SELECT
        item,
        machine_id,
        case_id,
        from_s,
        to_s,
        is_change,
        max(to_s) OVER (
            PARTITION BY item, machine_id
            ORDER BY from_s, is_change DESC, case_id
            ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) AS busy_until_s,
        max(CASE WHEN is_change = 1 THEN from_s END) OVER (
            PARTITION BY item, machine_id
            ORDER BY from_s, is_change DESC, case_id
            ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS changed_s,
        min(CASE WHEN is_change = 1 THEN from_s END) OVER (PARTITION BY item, machine_id) AS first_change_s
    FROM uses
),

owned AS (
    SELECT
        item,
        machine_id,
        case_id,
        from_s,
        to_s,
        is_change,
        changed_s,
        first_change_s,
        CASE WHEN busy_until_s > from_s THEN busy_until_s - from_s ELSE 0 END AS still_busy_s,
        CASE WHEN busy_until_s > from_s THEN busy_until_s ELSE from_s END AS own_from_s
    FROM ordered
)

SELECT
    item,
    machine_id,
    case_id,
    from_s,
    to_s,
    is_change,
    changed_s,
    first_change_s,
    own_from_s,
    CASE WHEN to_s > own_from_s THEN to_s - own_from_s ELSE 0 END AS own_s,
    CAST(
        coalesce(
            sum(CASE WHEN to_s > own_from_s THEN to_s - own_from_s ELSE 0 END) OVER (
                PARTITION BY item, machine_id
                ORDER BY from_s, is_change DESC, case_id
                ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
            ),
            0
        ) AS BIGINT
    ) - still_busy_s AS used_before_s
FROM owned
