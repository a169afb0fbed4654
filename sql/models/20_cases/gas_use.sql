-- gas_use: oxygen and liquid inhalant each case used.
--
-- Grain   one row a case with a start
-- Reads   gas_flows, case_windows, stg_cases, seed_agents
-- Units   oxygen_l L; liquid_ml mL; co2e_kg kg of CO2 equivalent; *_known_s and *_asked_s seconds
-- Source  vapor a mL of liquid, density and warming potential are rows of seed_agents
-- Built   by case
--
-- Rules
--   Oxygen from the first of pre-oxygenation, vaporizer on, start that is known to extubation, else end.
--   Liquid from vaporizer on, else the first dial above 0, to vaporizer off, else end: flow x dial / k; missing
--   air and nitrous oxide are 0, oxygen is needed. Unknown minutes add nothing; none known is unknown.

WITH

first_dials AS (
    SELECT case_id, min(from_s) AS first_dial_s
    FROM gas_flows
    WHERE dial_percent > 0
    GROUP BY case_id
),

spans AS (
    SELECT
        case_windows.case_id,
        case_windows.month_no,
        stg_cases.agent,
        coalesce(stg_cases.preoxygenation_start_s, stg_cases.vaporizer_on_s, case_windows.start_s) AS oxygen_from_s,
        coalesce(stg_cases.extubation_s, case_windows.end_s) AS oxygen_to_s,
        coalesce(stg_cases.vaporizer_on_s, first_dials.first_dial_s) AS agent_from_s,
        coalesce(stg_cases.vaporizer_off_s, case_windows.end_s) AS agent_to_s,
        seed_agents.vapor_ml_per_liquid_ml,
        seed_agents.density_g_ml,
        seed_agents.gwp100
    FROM case_windows
    INNER JOIN stg_cases ON stg_cases.case_id = case_windows.case_id
    LEFT JOIN first_dials ON first_dials.case_id = case_windows.case_id
    LEFT JOIN seed_agents ON seed_agents.agent = stg_cases.agent
),

clipped AS (
    SELECT
        spans.case_id,
        gas_flows.o2_l_min,
        gas_flows.o2_l_min + coalesce(gas_flows.air_l_min, 0e0) + coalesce(gas_flows.n2o_l_min, 0e0) AS flow_l_min,
        gas_flows.dial_percent,
        CASE
            WHEN spans.oxygen_to_s > gas_flows.from_s
                AND gas_flows.to_s > spans.oxygen_from_s
                AND spans.oxygen_to_s > spans.oxygen_from_s
                THEN least(gas_flows.to_s, spans.oxygen_to_s) - greatest(gas_flows.from_s, spans.oxygen_from_s)
            ELSE 0
        END AS oxygen_s,
        CASE
            WHEN spans.agent_to_s > gas_flows.from_s
                AND gas_flows.to_s > spans.agent_from_s
                AND spans.agent_to_s > spans.agent_from_s
                THEN least(gas_flows.to_s, spans.agent_to_s) - greatest(gas_flows.from_s, spans.agent_from_s)
            ELSE 0
        END AS agent_s
    FROM spans
    INNER JOIN gas_flows ON gas_flows.case_id = spans.case_id
),

summed AS (
    SELECT
        case_id,
        CAST(sum(CASE WHEN o2_l_min IS NOT NULL THEN oxygen_s ELSE 0 END) AS BIGINT) AS oxygen_known_s,
        sum(o2_l_min * oxygen_s) / 60e0 AS oxygen_l,
        CAST(sum(CASE WHEN flow_l_min * dial_percent IS NOT NULL THEN agent_s ELSE 0 END) AS BIGINT) AS agent_known_s,
        sum(flow_l_min * 1000e0 * dial_percent / 100e0 * agent_s) / 60e0 AS vapor_ml
    FROM clipped
    GROUP BY case_id
)

SELECT
    spans.case_id,
    spans.month_no,
    spans.agent,
    spans.oxygen_to_s - spans.oxygen_from_s AS oxygen_asked_s,
    summed.oxygen_known_s,
    CASE WHEN summed.oxygen_known_s > 0 THEN summed.oxygen_l END AS oxygen_l,
    spans.agent_to_s - spans.agent_from_s AS agent_asked_s,
    summed.agent_known_s,
    CASE WHEN summed.agent_known_s > 0 THEN summed.vapor_ml / nullif(spans.vapor_ml_per_liquid_ml, 0e0) END
        AS liquid_ml,
    CASE
        WHEN summed.agent_known_s > 0
            THEN summed.vapor_ml / nullif(spans.vapor_ml_per_liquid_ml, 0e0) * spans.density_g_ml * spans.gwp100 / 1000e0
    END AS co2e_kg
FROM spans
LEFT JOIN summed ON summed.case_id = spans.case_id
