-- inhalant_months: liquid inhalant as computed from flow and dial, beside fills of vaporizers and the store.
--
-- Grain   one row an agent and month with a case or a fill
-- Reads   gas_use, case_windows, stg_cases, stg_equipment, seed_agents
-- Units   *_ml mL; cases counts; month_no year x 12 + month - 1, local
-- Source  none
--
-- Rules
--   A fill belongs to the agent of the cases on its machine, where they all had one agent that month; else its
--   agent is unknown ('not known'). A fill in another unit than mL, or without a value, is counted and adds nothing.

WITH

modelled AS (
    SELECT
        gas_use.agent,
        gas_use.month_no,
        count(*) AS cases,
        count(gas_use.liquid_ml) AS known_cases,
        sum(gas_use.liquid_ml) AS modelled_ml
    FROM gas_use
    INNER JOIN seed_agents ON seed_agents.agent = gas_use.agent
    GROUP BY gas_use.agent, gas_use.month_no
),

machine_agents AS (
    SELECT
        stg_cases.machine_id,
        case_windows.month_no,
        CASE WHEN min(seed_agents.agent) = max(seed_agents.agent) THEN max(seed_agents.agent) END AS agent
    FROM case_windows
    INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
    INNER JOIN seed_agents ON seed_agents.agent = stg_cases.agent
    WHERE stg_cases.machine_id IS NOT NULL
    GROUP BY stg_cases.machine_id, case_windows.month_no
),

fills AS (
    SELECT
        coalesce(machine_agents.agent, 'not known') AS agent,
        stg_equipment.month_no,
        count(*) AS fills,
        count(CASE WHEN lower(stg_equipment.val_unit) = 'ml' THEN stg_equipment.val END) AS known_fills,
        sum(CASE WHEN lower(stg_equipment.val_unit) = 'ml' THEN stg_equipment.val END) AS filled_ml
    FROM stg_equipment
    LEFT JOIN machine_agents
        ON machine_agents.machine_id = stg_equipment.machine_id
        AND machine_agents.month_no = stg_equipment.month_no
    WHERE stg_equipment.item = 'vaporizer' AND stg_equipment.action = 'filled'
    GROUP BY coalesce(machine_agents.agent, 'not known'), stg_equipment.month_no
),

months AS (
    SELECT agent, month_no FROM modelled
    UNION
    SELECT agent, month_no FROM fills
)

SELECT
    months.agent,
    months.month_no,
    coalesce(modelled.cases, 0) AS cases,
    coalesce(modelled.known_cases, 0) AS known_cases,
    modelled.modelled_ml,
    coalesce(fills.fills, 0) AS fills,
    coalesce(fills.known_fills, 0) AS known_fills,
    fills.filled_ml
FROM months
LEFT JOIN modelled ON modelled.agent = months.agent AND modelled.month_no = months.month_no
LEFT JOIN fills ON fills.agent = months.agent AND fills.month_no = months.month_no
