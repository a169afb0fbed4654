-- doubtful_groups: cases and parameters whose readings some rule must look at one by one.
--
-- Kept    table
-- Grain   one row such a case and parameter
-- Reads   vital_bounds, vital_groups, remarkable, groups_in_pieces, check_values
--
-- Rules
--   What a group's lowest, highest and number of readings leave possible: a moment twice, no CO2 or CO2 in kPa, a
--   flushed line, pressures in the wrong order, an open dial without flow. A rule that reads doubtful_readings must
--   make what it looks for doubtful here.

WITH

pressures AS (
    SELECT
        case_id,
        min(CASE WHEN parameter = 'sap' THEN lowest END) AS sap_low,
        max(CASE WHEN parameter = 'map' THEN highest END) AS map_high,
        min(CASE WHEN parameter = 'map' THEN lowest END) AS map_low,
        max(CASE WHEN parameter = 'dap' THEN highest END) AS dap_high
    FROM vital_groups
    WHERE parameter IN ('sap', 'map', 'dap')
    GROUP BY case_id
),

no_flow AS (
    SELECT case_id
    FROM vital_groups
    WHERE parameter = 'o2_flow' AND lowest <= 0e0
)

SELECT case_id, parameter
FROM vital_bounds
WHERE doubtful
UNION
SELECT case_id, parameter
FROM remarkable
WHERE same OR falls
UNION
SELECT case_id, parameter
FROM groups_in_pieces
UNION
SELECT vital_groups.case_id, vital_groups.parameter
FROM vital_groups
CROSS JOIN check_values
WHERE vital_groups.charted > vital_groups.minutes_filled
    OR (vital_groups.parameter = 'etco2' AND (
        vital_groups.lowest <= check_values.etco2_disconnected_max
        OR (vital_groups.lowest >= 2e0 AND vital_groups.highest <= 12e0)
    ))
    OR (vital_groups.parameter IN ('sap', 'map', 'dap')
        AND vital_groups.highest > check_values.flush_above_mmhg
        AND vital_groups.lowest <= check_values.flush_below_mmhg)
UNION
SELECT pressures.case_id, named.parameter
FROM pressures
CROSS JOIN (VALUES ('sap'), ('map'), ('dap')) AS named(parameter)
WHERE pressures.sap_low < pressures.map_high OR pressures.map_low < pressures.dap_high
    OR pressures.sap_low < pressures.dap_high
UNION
SELECT no_flow.case_id, named.parameter
FROM no_flow
CROSS JOIN (VALUES ('vaporizer_setting'), ('o2_flow')) AS named(parameter)
