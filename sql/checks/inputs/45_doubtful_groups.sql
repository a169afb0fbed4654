-- doubtful_groups: cases and parameters whose readings some rule must look at one by one.
--
-- Kept    table
-- Grain   one row such a case and parameter; group_no, a number to sort and group by
-- Reads   vital_bounds, vital_groups, case_readings, remarkable, groups_in_pieces, check_values
--
-- Rules
--   What a group's lowest, highest and number of readings leave possible: a moment twice, no CO2 or CO2 in kPa, a
--   flushed line, pressures in the wrong order, an open dial without flow. A rule that reads doubtful_readings must
--   make what it looks for doubtful here.

WITH

doubts AS (
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
    WHERE vital_groups.charted > vital_groups.moments_filled
        OR (vital_groups.parameter = 'etco2' AND (
            vital_groups.lowest <= check_values.etco2_disconnected_max
            OR (vital_groups.lowest >= 2e0 AND vital_groups.highest <= 12e0)
        ))
        OR (vital_groups.parameter IN ('sap', 'map', 'dap')
            AND vital_groups.highest > check_values.flush_above_mmhg
            AND vital_groups.lowest <= check_values.flush_below_mmhg)
    UNION
    SELECT case_readings.case_id, named.parameter
    FROM case_readings
    CROSS JOIN (VALUES ('sap'), ('map'), ('dap')) AS named(parameter)
    WHERE case_readings.sap_low < case_readings.map_high OR case_readings.map_low < case_readings.dap_high
        OR case_readings.sap_low < case_readings.dap_high
    UNION
    SELECT case_readings.case_id, named.parameter
    FROM case_readings
    CROSS JOIN (VALUES ('vaporizer_setting'), ('o2_flow')) AS named(parameter)
    WHERE case_readings.o2_lowest <= 0e0
)

SELECT case_id, parameter, row_number() OVER () AS group_no
FROM doubts
