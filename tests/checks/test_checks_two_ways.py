"""SQL and Great Expectations' own pandas execution count the same rows, on 50,000 of them with every kind of fault."""

import pytest
from clinic_rows import fill_clocks

from pipeline import checks
from pipeline.checks import catalogue, conditions, inputs, native, scan, store
from pipeline.checks.judge import judge

ROWS = 50_000
CHANCE = "CREATE TEMP MACRO chance(i, k) AS CAST(hash(i, k) % 10007 AS DOUBLE) / 10007"

CASES = f"""
INSERT INTO cases BY NAME
SELECT
    'A' || i AS case_id,
    [NULL, 'dog', 'cat', 'rabbit', 'horse', 'dragon'][1 + CAST(floor(chance(i, 1) * 6) AS INTEGER)] AS species,
    [NULL, 'male', 'female', 'both'][1 + CAST(floor(chance(i, 2) * 4) AS INTEGER)] AS sex,
    CAST(floor(chance(i, 3) * 7) AS INTEGER) AS asa_class,
    CASE WHEN chance(i, 4) < 0.9 THEN chance(i, 5) * 140 END AS weight_kg,
    CASE WHEN chance(i, 6) < 0.9 THEN chance(i, 7) * 45 END AS age_years,
    CASE WHEN chance(i, 8) < 0.9 THEN chance(i, 9) * 90 END AS fasting_hours,
    ['tracheal_tube', 'mask', 'rope', NULL][1 + CAST(floor(chance(i, 10) * 4) AS INTEGER)] AS airway,
    ['alive', 'died', 'unsure', NULL][1 + CAST(floor(chance(i, 11) * 4) AS INTEGER)] AS outcome,
    CASE WHEN chance(i, 12) < 0.8 THEN t + to_minutes(CAST(chance(i, 13) * 60 AS BIGINT)) END AS induction_at,
    CASE WHEN chance(i, 14) < 0.8 THEN t + to_minutes(CAST(chance(i, 15) * 60 AS BIGINT)) END AS intubation_at,
    CASE WHEN chance(i, 16) < 0.8 THEN t + to_minutes(CAST(chance(i, 17) * 60 AS BIGINT)) END AS extubation_at,
    CASE WHEN chance(i, 18) < 0.8 THEN t + to_minutes(CAST(chance(i, 19) * 60 AS BIGINT)) END AS sternal_at,
    CASE WHEN chance(i, 20) < 0.8 THEN t + to_minutes(CAST(chance(i, 21) * 60 AS BIGINT)) END AS standing_at
FROM (SELECT i, TIMESTAMP '2025-06-01 08:00' + to_hours(i % 2000) AS t FROM range({ROWS}) AS r(i))
"""
VITALS = f"""
INSERT INTO vitals BY NAME
SELECT
    CASE WHEN i % 997 > 0 THEN 'A' || i % 400 END AS case_id,
    CASE WHEN i % 991 > 0 THEN TIMESTAMP '2025-06-01 08:00' + to_minutes(i) END AS taken_at,
    ['heart_rate', 'etco2', 'sap', 'vaporizer_setting', 'peep', 'guess', NULL][
        1 + CAST(floor(chance(i, 22) * 7) AS INTEGER)
    ] AS parameter,
    CASE
        WHEN i % 983 = 0 THEN CAST('NaN' AS DOUBLE)
        WHEN chance(i, 23) < 0.95 THEN chance(i, 24) * 400 - 20
    END AS value
FROM range({ROWS}) AS r(i)
"""


@pytest.mark.parametrize("table, made", [("cases", CASES), ("vitals", VITALS)])
def test_sql_and_great_expectations_count_the_same_failing_rows(db, clinic_settings, table, made):
    db.execute(CHANCE)
    if table == "vitals":
        kinds = "['dog', 'cat', 'rabbit', NULL][1 + i % 4] AS species, ['isoflurane', 'none'][1 + i % 2] AS agent"
        db.execute(f"INSERT INTO cases BY NAME SELECT 'A' || i AS case_id, {kinds} FROM range(400) AS r(i)")
    db.execute(made)
    fill_clocks(db)
    inputs.prepare(db, clinic_settings)
    store.begin(db, list(catalogue.rules()))
    bounds = conditions.load_bounds(db)
    rules = [rule for rule in catalogue.rules() if rule.table == table and rule.within_row]
    joined = "SELECT vitals.*, species, agent FROM vitals LEFT JOIN cases USING (case_id)"
    frame = db.sql(joined if table == "vitals" else "SELECT * FROM cases").to_arrow_table()
    second = native.failed_in(frame.to_pandas(types_mapper=native.arrow_type), rules, bounds)
    counts = scan.count(db, {table: scan.conditions(rules, bounds)})
    assert len(second) >= {"cases": 25, "vitals": 19}[table]
    assert {rule: counts[rule].failed for rule in second} == second
    assert sum(failed > 0 for failed in second.values()) >= {"cases": 20, "vitals": 8}[table]

    both = [rule for rule in rules if rule.id in second]
    theirs = {rule.id: scan.Count(counts[rule.id].in_scope, counts[rule.id].judged, second[rule.id]) for rule in both}
    assert judge(both, theirs) == judge(both, counts)


def test_an_expectation_that_cannot_be_run_is_no_count(clinic_settings, db):
    import pandas as pd

    inputs.prepare(db, clinic_settings)
    rules = [rule for rule in catalogue.rules() if rule.id == "cases_species_code"]
    found = native.failed_in(pd.DataFrame({"sex": ["male"]}), rules, conditions.load_bounds(db))
    assert found == {"cases_species_code": None}
    counted = scan.Count(1, 1, 0)
    checks.compare(counted, found["cases_species_code"])
    assert checks.outcome(rules[0], counted, True, "sql").outcome == "could_not_run"
