"""The faults made in the invented clinic, whose records are clean: each rule finds its own, and no other rule does."""

from dataclasses import replace

import pytest
from clinic_rows import fill_clocks
from faults import ALONE, ALSO, SETTINGS_FAULTS, statements

from pipeline import intake, settings
from pipeline.checks import conditions, counting, inputs, store
from pipeline.checks.catalogue import rules
from pipeline.database import connect
from pipeline.simulate import write_clinic

# Faults that the invented clinic has no row for, or that need its rows in a shape they do not have; the sound clinic
# tests them.
UNFIT = {"cases_present", "vitals_last_digit", "vitals_whole_degrees", "cases_times_exact", "events_every_month"}
TOGETHER = [rule for rule in rules() if rule.id not in ALONE | UNFIT | set(SETTINGS_FAULTS)]
CLINICS = 24

# Recent cases with everything charted, those with the drugs that the faults need.
WHOLE = """
    SELECT case_id FROM cases
    WHERE species = '{species}' AND agent IN ('isoflurane', 'sevoflurane') AND outcome = 'alive'
        AND standing_at < recovery_end_at - INTERVAL 10 MINUTE
        AND induction_at > (SELECT max(induction_at) - INTERVAL 80 DAY FROM cases)
        AND induction_at < (SELECT max(induction_at) - INTERVAL 3 DAY FROM cases)
        AND vaporizer_off_at < extubation_at - INTERVAL 2 MINUTE
        AND procedure_end_at > procedure_start_at + INTERVAL 30 MINUTE
        AND {more}
    ORDER BY case_id
"""
HAS = "case_id IN (SELECT case_id FROM drugs WHERE {})"
DOG = " AND ".join(HAS.format(drug) for drug in (
    "kind = 'infusion' AND amount_unit <> 'mL/h'", "drug = 'propofol' AND kind = 'bolus'", "wasted_ml > 0",
    "phase = 'premedication'"))  # fmt: skip
DOG += (
    " AND (SELECT count(DISTINCT parameter) FROM vitals WHERE vitals.case_id = cases.case_id "
    "AND parameter IN ('sap', 'map', 'dap')) IN (0, 3)"
)
CAT = HAS.format("drug = 'meloxicam'") + " AND " + HAS.format("witnessed_by IS NOT NULL")


@pytest.fixture(scope="module")
def clean(tmp_path_factory):
    """The invented clinic loaded, its counts, and the cases that faults may fall on."""
    folder = tmp_path_factory.mktemp("invented")
    write_clinic(folder, faults=False, months=7, cases=730)
    chosen = replace(settings.read(folder / settings.FILE), zone="UTC")
    with connect() as db:
        intake.load(db, chosen, folder, None, None)
        inputs.prepare(db, chosen)
        cases = {
            name: [f"'{row[0]}'" for row in db.execute(WHOLE.format(species=species, more=more)).fetchall()]
            for name, species, more in (("dog", "dog", DOG), ("cat", "cat", CAT))
        }
        cases["last_dog"], cases["last_cat"] = ([again(db, species)] for species in ("dog", "cat"))
        for number in cases["dog"]:
            chart_all(db, number)
        fill_clocks(db)
        yield db, failed(db), cases


def again(db, species: str) -> str:
    """The latest case of a grown animal seen twice within 90 days."""
    found = db.execute(
        """
        SELECT later.case_id FROM cases AS later
        INNER JOIN cases AS earlier ON earlier.patient_id = later.patient_id
            AND later.induction_at > earlier.induction_at + INTERVAL 1 DAY
            AND later.induction_at < earlier.induction_at + INTERVAL 80 DAY
        WHERE later.species = ? AND later.age_years > 1
            AND later.induction_at = (SELECT max(induction_at) FROM cases WHERE patient_id = later.patient_id)
        ORDER BY later.case_id LIMIT 1
        """,
        [species],
    ).fetchall()
    return f"'{found[0][0]}'"


def chart_all(db, number: str) -> None:
    """Gives a case a ventilator and a reading of every parameter beside each heart rate, so that each fault finds
    a row to fall on."""
    db.execute(f"UPDATE cases SET ventilation = 'mechanical', ventilator_off_at = coalesce(ventilator_off_at, "
               f"vaporizer_off_at + to_minutes(1)) WHERE case_id = {number}")  # fmt: skip
    usual = {
        "respiratory_rate": 12, "etco2": 40, "fico2": 0, "spo2": 98, "agent_et": 1.2, "temperature": 37.3,
        "agent_insp": 1.5, "air_flow": 0.4, "n2o_flow": 0, "peak_airway_pressure": 12, "peep": 2, "tidal_volume": 210,
        "o2_flow": 1.1, "vaporizer_setting": 1.5,
    }  # fmt: skip
    charted = {
        row[0] for row in db.execute(f"SELECT DISTINCT parameter FROM vitals WHERE case_id = {number}").fetchall()
    }
    if not charted & {"sap", "map", "dap"}:
        usual |= {
            "sap": "121 + minute(taken_at) % 4",
            "map": "84 + minute(taken_at) % 4",
            "dap": "66 + minute(taken_at) % 4",
        }
    for parameter in usual.keys() - charted:
        db.execute(
            f"""
            INSERT INTO vitals (case_id, taken_at, parameter, value, source_file)
            SELECT vitals.case_id, taken_at, '{parameter}', {usual[parameter]}, vitals.source_file
            FROM vitals INNER JOIN cases ON cases.case_id = vitals.case_id
            WHERE vitals.case_id = {number} AND parameter = 'heart_rate'
                AND taken_at BETWEEN vaporizer_on_at AND vaporizer_off_at
            """
        )


def failed(db) -> dict[str, int]:
    inputs.steps(db)
    store.begin(db, list(rules()))
    counts = counting.count(db, list(rules()), conditions.load_bounds(db))
    assert [count.reason for count in counts.values() if count.reason] == []
    return {rule: count.failed for rule, count in counts.items()}


def test_the_clean_clinic_has_next_to_nothing_to_mend(clean):
    _, before, cases = clean
    assert {rule for rule, count in before.items() if count} <= {
        "cases_procedure_end_at_filled",  # an animal that died or was put down on the table
        "events_sign_charted",  # people chart what they treat
        "vitals_copied_forward",  # a rabbit's heart may beat the same for half an hour
    }
    assert len(cases["dog"]) >= 3 and len(cases["cat"]) >= 3


def found_more(db, before, broken, cases) -> set[str]:
    db.execute("BEGIN")
    try:
        for place, rule in enumerate(broken):
            picked = {name: numbers[place % len(numbers)] for name, numbers in cases.items()}
            for statement in statements(rule):
                db.execute(statement.format(at='"at"', **picked))
        fill_clocks(db)
        after = failed(db)
    finally:
        db.execute("ROLLBACK")
    return {rule for rule, count in after.items() if count > before[rule]}


@pytest.mark.parametrize("number", range(CLINICS))
def test_rules_find_their_faults_and_no_other_rule_does(clean, number):
    db, before, cases = clean
    broken = TOGETHER[number::CLINICS]
    made, found = {rule.id for rule in broken}, found_more(db, before, broken, cases)
    assert (made - found, found - made - {other for rule in made for other in ALSO.get(rule, ())}) == (set(), set())


@pytest.mark.parametrize("rule", [rule for rule in rules() if rule.id in ALONE - UNFIT], ids=lambda rule: rule.id)
def test_a_rule_about_the_whole_finds_its_fault_and_no_other_rule_does(clean, rule):
    db, before, cases = clean
    found = found_more(db, before, [rule], cases)
    assert rule.id in found
    assert found - {rule.id} <= ALSO.get(rule.id, set())
