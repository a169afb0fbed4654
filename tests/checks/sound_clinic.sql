-- A clinic in which every rule finds something to judge and nothing wrong: 48 anesthetics on one machine by one
-- person, 24 in September 2025 and 24 in January 2026, one a day, charted every five minutes. All invented.

INSERT INTO cases BY NAME
SELECT
    'A' || i AS case_id,
    'north' AS site,
    'P' || (i % 12) AS patient_id,
    CASE WHEN i % 12 < 6 THEN 'dog' WHEN i % 12 < 9 THEN 'cat' ELSE 'rabbit' END AS species,
    'mixed' AS breed,
    'female_neutered' AS sex,
    4 AS age_years,
    CASE WHEN i % 12 < 6 THEN 20 ELSE 4 END AS weight_kg,
    1 + i % 3 AS asa_class,
    FALSE AS emergency,
    'dental cleaning' AS procedure,
    'dental' AS procedure_group,
    8 AS fasting_hours,
    'N1' AS anesthetist,
    'S1' AS supervisor,
    'T1' AS trainee,
    'assisting' AS trainee_role,
    'M1' AS machine_id,
    'rebreathing' AS breathing_system,
    1000 AS bag_ml,
    'mechanical' AS ventilation,
    'tracheal_tube' AS airway,
    5 AS tube_id_mm,
    'isoflurane' AS agent,
    t - INTERVAL 60 MINUTE AS premed_at,
    t - INTERVAL 7 MINUTE AS preoxygenation_start_at,
    t AS induction_at,
    t + INTERVAL 3 MINUTE AS intubation_at,
    t + INTERVAL 5 MINUTE AS vaporizer_on_at,
    t + INTERVAL 20 MINUTE AS procedure_start_at,
    t + INTERVAL 60 MINUTE AS procedure_end_at,
    t + INTERVAL 70 MINUTE AS vaporizer_off_at,
    t + INTERVAL 71 MINUTE AS ventilator_off_at,
    t + INTERVAL 72 MINUTE AS spontaneous_breathing_at,
    t + INTERVAL 80 MINUTE AS extubation_at,
    t + INTERVAL 85 MINUTE AS sternal_at,
    t + INTERVAL 95 MINUTE AS standing_at,
    t + INTERVAL 120 MINUTE AS recovery_end_at,
    CASE i WHEN 47 THEN 'died' ELSE 'alive' END AS outcome,
    CASE i WHEN 47 THEN t + INTERVAL 30 HOUR END AS outcome_at,
    t + INTERVAL 72 HOUR AS followed_until
FROM (
    SELECT
        i,
        CASE WHEN i <= 24 THEN TIMESTAMP '2025-09-01 09:07' ELSE TIMESTAMP '2025-12-09 09:07' END + to_days(i) AS t
    FROM range(1, 49) AS numbers(i)
);

-- One case without an inhalant, one with a mask.
UPDATE cases SET agent = 'none' WHERE case_id = 'A48';
UPDATE cases SET airway = 'mask', intubation_at = NULL, tube_id_mm = NULL WHERE case_id = 'A46';

INSERT INTO case_people BY NAME
SELECT case_id, person, role, induction_at AS from_at, extubation_at AS to_at
FROM cases
CROSS JOIN (VALUES ('N1', 'primary'), ('T1', 'assisting'), ('S1', 'supervising')) AS parts(person, role);

-- Readings of the anesthetic every five minutes, of recovery every ten.
INSERT INTO vitals BY NAME
SELECT
    cases.case_id,
    cases.induction_at + to_minutes(5 * k) AS taken_at,
    parameters.parameter,
    parameters.usual + parameters.swing * ((k * 7 + ascii(parameters.parameter)) % 9) AS value
FROM cases
CROSS JOIN range(0, 25) AS marks(k)
CROSS JOIN (
    VALUES
        ('heart_rate', 112, 1.0), ('respiratory_rate', 14, 1.0), ('etco2', 37, 0.5), ('fico2', 0, 0.1),
        ('spo2', 97, 0.2), ('sap', 111, 1.0), ('map', 81, 1.0), ('dap', 63, 1.0), ('temperature', 37.6, 0.1),
        ('agent_et', 1.2, 0.01), ('agent_insp', 1.5, 0.01), ('o2_flow', 1.0, 0.01), ('air_flow', 0.5, 0.01),
        ('n2o_flow', 0.0, 0.01), ('peak_airway_pressure', 11, 0.1), ('peep', 2, 0.1), ('tidal_volume', 200, 1.0)
) AS parameters(parameter, usual, swing)
WHERE k <= 16 OR parameters.parameter IN ('heart_rate', 'temperature') AND k % 2 = 0;

INSERT INTO vitals BY NAME
SELECT
    case_id,
    induction_at + to_minutes(5 * k) AS taken_at,
    'vaporizer_setting' AS parameter,
    CASE WHEN agent = 'none' THEN 0 ELSE 1.8 END AS value
FROM cases
CROSS JOIN range(1, 15) AS marks(k);

-- One charted event, seen by the pulse oximeter.
UPDATE vitals SET value = 92
WHERE case_id = 'A29' AND parameter = 'spo2'
    AND taken_at BETWEEN TIMESTAMP '2026-01-07 09:37' AND TIMESTAMP '2026-01-07 09:52';

INSERT INTO events BY NAME
SELECT case_id, event, induction_at + to_minutes(at_min) AS occurred_at,
    induction_at + to_minutes(at_min + 15) AS resolved_at, 'minor' AS severity, 'maintenance' AS phase
FROM cases
INNER JOIN (
    VALUES ('A5', 'regurgitation', 30), ('A6', 'regurgitation', 30), ('A29', 'hypoxemia', 30), ('A30', 'regurgitation', 40), ('A47', 'death', 1800)
) AS charted(charted_case, event, at_min) ON charted_case = case_id;

INSERT INTO drugs BY NAME
SELECT
    cases.case_id, given.* EXCLUDE (at_min), cases.induction_at + to_minutes(at_min) AS given_at,
    CASE WHEN given.kind = 'infusion' THEN cases.vaporizer_off_at END AS stopped_at,
    CASE WHEN given.drug = 'methadone' AND cases.species = 'dog' THEN 0.1
        WHEN given.drug = 'methadone' THEN 0.0 END AS wasted_ml,
    CASE WHEN given.drug = 'methadone' THEN 0.8 END AS drawn_ml,
    'N1' AS given_by,
    CASE WHEN given.drug = 'methadone' THEN 'S1' END AS witnessed_by
FROM cases
CROSS JOIN (
    VALUES
        ('methadone', 'bolus', 'premedication', 'im', 0.3, 'mg/kg', 10.0, -50),
        ('propofol', 'bolus', 'induction', 'iv', 4.0, 'mg/kg', 10.0, 0),
        ('lidocaine', 'bolus', 'maintenance', 'local', 1.0, 'mg/kg', 20.0, 15),
        ('bupivacaine', 'bolus', 'maintenance', 'local', 0.5, 'mg/kg', 5.0, 17),
        ('fentanyl', 'infusion', 'maintenance', 'iv', 5.0, 'mcg/kg/h', 0.05, 10)
) AS given(drug, kind, phase, route, amount, amount_unit, concentration_mg_ml, at_min);

INSERT INTO drugs BY NAME
SELECT case_id, 'meloxicam' AS drug, 'bolus' AS kind, 'recovery' AS phase, 'sc' AS route,
    weight_kg * 0.2 / 5 AS amount, 'mL' AS amount_unit, 5 AS concentration_mg_ml,
    extubation_at AS given_at, 'N1' AS given_by
FROM cases
WHERE species <> 'rabbit';

-- A leak test every morning, a weighing every week, marks that stand for the 80 minutes of each case.
INSERT INTO equipment BY NAME
SELECT 'M1' AS machine_id, induction_at - INTERVAL 90 MINUTE AS "at", 'breathing_system' AS item,
    'leak_tested' AS action, 100 + day(induction_at) AS value, 'mL/min' AS unit, 'N1' AS person
FROM cases;

INSERT INTO equipment BY NAME
SELECT 'M1' AS machine_id, extubation_at + to_minutes(k) AS "at", 'absorbent' AS item, 'marked' AS action,
    'N1' AS person, case_id
FROM cases
CROSS JOIN range(0, 3) AS marks(k)
WHERE k < 2 OR asa_class <> 1;

INSERT INTO equipment BY NAME
SELECT 'M1' AS machine_id, "at", item, action, value, unit, 'N1' AS person
FROM (
    VALUES
        (TIMESTAMP '2025-08-31 08:00', 'absorbent', 'changed', 900, 'g'),
        (TIMESTAMP '2025-10-15 08:00', 'absorbent', 'changed', 900, 'g'),
        (TIMESTAMP '2026-01-30 08:00', 'absorbent', 'changed', 900, 'g'),
        (TIMESTAMP '2025-08-31 08:05', 'scavenging_canister', 'changed', 400, 'g'),
        (TIMESTAMP '2025-08-31 08:06', 'scavenging_canister', 'weighed', 400, 'g'),
        (TIMESTAMP '2025-09-14 08:06', 'scavenging_canister', 'weighed', 422, 'g'),
        (TIMESTAMP '2025-09-28 08:06', 'scavenging_canister', 'weighed', 439, 'g'),
        (TIMESTAMP '2026-01-02 08:05', 'scavenging_canister', 'changed', 401, 'g'),
        (TIMESTAMP '2026-01-02 08:06', 'scavenging_canister', 'weighed', 401, 'g')
) AS actions("at", item, action, value, unit);

-- The cupboard of methadone balances: 30 + 20 - 9.5 = 40.5, 40.5 - 8.5 = 32; propofol is opened by the pack.
INSERT INTO stock BY NAME
SELECT item, "at", movement, quantity, 'mL' AS unit, lot, expires_on, 'N1' AS person
FROM (
    VALUES
        ('methadone_10ml', TIMESTAMP '2025-09-01 08:00', 'counted', 30.0, NULL, NULL),
        ('methadone_10ml', TIMESTAMP '2025-09-05 10:00', 'received', 20.0, 'L1', DATE '2027-03-31'),
        ('methadone_10ml', TIMESTAMP '2025-09-26 18:00', 'supplied', 9.5, 'L1', NULL),
        ('methadone_10ml', TIMESTAMP '2025-09-30 18:00', 'counted', 40.5, NULL, NULL),
        ('methadone_10ml', TIMESTAMP '2026-01-20 18:00', 'supplied', 8.5, 'L1', NULL),
        ('methadone_10ml', TIMESTAMP '2026-01-30 18:00', 'counted', 32.0, NULL, NULL),
        ('propofol_20ml', TIMESTAMP '2025-09-02 10:00', 'received', 400.0, 'L7', DATE '2027-06-30'),
        ('propofol_20ml', TIMESTAMP '2025-09-03 08:00', 'opened', 20.0, 'L7', NULL)
) AS moves(item, "at", movement, quantity, lot, expires_on);

INSERT INTO equipment (machine_id, "at", item, action, person)
SELECT 'M1', TIMESTAMP '2025-09-15 18:00' + to_days(n), 'breathing_system', 'cleaned', 'N1'
FROM range(0, 3) AS days(n);

INSERT INTO stock (item, "at", movement, quantity, unit, person)
VALUES ('propofol_20ml', TIMESTAMP '2026-01-29 18:00', 'counted', 300, 'mL', 'N1');
