-- case_totals: what cases add to totals, one row a thing counted (dose, case), in each group its total stands by.
--
-- Grain   one row a thing counted, measure, grouping column and level
-- Reads   drug_doses, gas_use, case_groups, case_windows, case_absorbent, stg_cases, seed_agents
-- Units   amount in the measure's unit, NULL where unknown; month_no year x 12 + month - 1
-- Source  none
-- Built   as a view
--
-- Rules
--   A case's gases and absorbent hours go to the month of its start.

WITH

oxygen AS (
    SELECT 'oxygen_l' AS measure, case_groups.by_column, case_groups.level_text, case_groups.month_no,
        gas_use.oxygen_l AS amount
    FROM gas_use
    INNER JOIN case_groups ON case_groups.case_id = gas_use.case_id
    WHERE case_groups.by_column IN ('all', 'asa_class', 'species', 'machine_id')
),

inhalants AS (
    SELECT gas_use.agent, gas_use.month_no, gas_use.liquid_ml, gas_use.co2e_kg
    FROM gas_use
    INNER JOIN seed_agents ON seed_agents.agent = gas_use.agent
)

SELECT 'drug_mg' AS measure, 'drug' AS by_column, drug AS level_text, month_no, mg AS amount FROM drug_doses
UNION ALL
SELECT 'drug_ml' AS measure, 'drug' AS by_column, drug AS level_text, month_no, ml AS amount FROM drug_doses
UNION ALL
SELECT 'drug_packs' AS measure, 'drug' AS by_column, drug AS level_text, month_no, packs AS amount FROM drug_doses
UNION ALL
SELECT 'drug_wasted_ml' AS measure, 'drug' AS by_column, drug AS level_text, month_no, wasted_ml AS amount
FROM drug_doses
UNION ALL
SELECT measure, by_column, level_text, month_no, amount FROM oxygen
UNION ALL
SELECT 'agent_liquid_ml' AS measure, 'agent' AS by_column, agent AS level_text, month_no, liquid_ml AS amount
FROM inhalants
UNION ALL
SELECT 'co2e_kg' AS measure, 'agent' AS by_column, agent AS level_text, month_no, co2e_kg AS amount FROM inhalants
UNION ALL
SELECT 'cases' AS measure, by_column, level_text, month_no, 1e0 AS amount FROM case_groups
UNION ALL
SELECT 'anesthesia_hours' AS measure, case_groups.by_column, case_groups.level_text, case_groups.month_no,
    case_windows.anesthesia_min / 60e0 AS amount
FROM case_groups
INNER JOIN case_windows ON case_windows.case_id = case_groups.case_id
UNION ALL
SELECT 'absorbent_hours' AS measure, 'machine_id' AS by_column,
    coalesce(stg_cases.machine_id, 'not recorded') AS level_text, case_windows.month_no,
    case_absorbent.use_hours AS amount
FROM case_windows
INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
LEFT JOIN case_absorbent ON case_absorbent.case_id = case_windows.case_id
WHERE stg_cases.breathing_system = 'rebreathing'
