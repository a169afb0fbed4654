-- groups_in_pieces: cases whose readings of a parameter do not stand together, or not in the order of time.
--
-- Kept    table
-- Grain   one row such a case and parameter, of heart rate, pressures and temperature
-- Reads   vitals, vital_groups, remarkable
--
-- Rules
--   The rules that look at neighbors sort the readings of these alone. A case stands together where its rows have
--   as many places in the table as there are rows.

WITH

scattered AS (
    SELECT case_id
    FROM vitals
    GROUP BY case_id
    HAVING max(rowid) - min(rowid) + 1 > count(*)
)

SELECT vital_groups.case_id, vital_groups.parameter
FROM vital_groups
INNER JOIN scattered ON scattered.case_id = vital_groups.case_id
WHERE vital_groups.parameter IN ('heart_rate', 'sap', 'map', 'dap', 'temperature')
UNION
SELECT case_id, parameter
FROM remarkable
WHERE turns
