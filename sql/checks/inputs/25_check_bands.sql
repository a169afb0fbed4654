-- check_bands: the formulary's lowest and highest dose of each drug for each species, in one unit.
--
-- Kept    table
-- Grain   one row a drug, species, route ('any' for the rest) and way of giving: dose or rate
-- Reads   seed_formulary
-- Units   mg/kg for a dose, mg/kg/h for a rate
-- Source  rows of seed_formulary

SELECT
    drug,
    species,
    route,
    CASE WHEN unit IN ('mg/kg/h', 'mcg/kg/h', 'mcg/kg/min') THEN 'rate' ELSE 'dose' END AS way,
    min(low * CASE unit WHEN 'mcg/kg' THEN 0.001e0 WHEN 'mcg/kg/h' THEN 0.001e0 WHEN 'mcg/kg/min' THEN 0.06e0
        ELSE 1e0 END) AS low,
    max(high * CASE unit WHEN 'mcg/kg' THEN 0.001e0 WHEN 'mcg/kg/h' THEN 0.001e0 WHEN 'mcg/kg/min' THEN 0.06e0
        ELSE 1e0 END) AS high
FROM seed_formulary
WHERE low IS NOT NULL
GROUP BY drug, species, route, way
