-- vitals_etco2_unit: is end-tidal CO2 in mmHg, not in kPa?
--
-- Judges  every case with at least four readings of end-tidal CO2
-- Reads   vital_groups
-- Units   mmHg
--
-- Rules
--   45 mmHg are 6.0 kPa: a whole case between 2 and 12 was charted in kPa.

SELECT
    CASE WHEN lowest >= 2e0 AND highest <= 12e0 THEN 1 ELSE 0 END AS failed,
    case_id,
    parameter,
    first_s AS at_s,
    first_file AS source_file,
    CASE
        WHEN failed = 1 THEN 'all ' || CAST(readings AS VARCHAR) || ' readings from ' || CAST(lowest AS VARCHAR)
            || ' to ' || CAST(highest AS VARCHAR)
    END AS found
FROM vital_groups
WHERE parameter = 'etco2' AND readings >= 4
