"""Each rule passes a sound clinic, finds the fault made for it while no other rule does, and judges nothing where it
does not apply."""

import pytest
from clinic_rows import SETTINGS, fill_clocks, sound_clinic
from faults import ALONE, ALSO, FAULTS, SETTINGS_FAULTS, statements

from pipeline import schema, settings
from pipeline.checks import conditions, counting, inputs, store
from pipeline.checks.catalogue import rules
from pipeline.database import connect

# Faults made together in one clinic, each on rows of its own, so that a few dozen clinics do for all rules.
TOGETHER = [rule for rule in rules() if rule.id not in ALONE and rule.id not in SETTINGS_FAULTS]
CLINICS = 24
CASES = {
    "dog": [f"'A{n}'" for n in (25, 26, 27, 28, 36, 37, 39, 40, 41)],
    "cat": [f"'A{n}'" for n in (6, 7, 8, 18, 19, 20, 30, 31, 32, 33, 34, 35)],
    "last_dog": ["'A38'"],
    "last_cat": ["'A43'"],
}


def counted(db):
    inputs.steps(db)
    store.begin(db, list(rules()))
    return counting.count(db, list(rules()), conditions.load_bounds(db))


def failed(counts) -> set[str]:
    return {rule for rule, count in counts.items() if count.failed}


@pytest.fixture(scope="module")
def sound():
    with connect() as db:
        sound_clinic(db)
        inputs.prepare(db, settings.from_dict(SETTINGS))
        yield db


@pytest.fixture
def clinic(sound):
    """The sound clinic, as it was again after the test."""
    sound.execute("BEGIN")
    yield sound
    sound.execute("ROLLBACK")


def break_(db, rule, place: int) -> None:
    cases = {name: numbers[place % len(numbers)] for name, numbers in CASES.items()}
    for statement in statements(rule):
        db.execute(statement.format(at='"at"', **cases))


def test_every_rule_judges_something_in_the_sound_clinic_and_finds_nothing(sound):
    counts = counted(sound)
    assert [rule for rule, count in counts.items() if count.reason] == []
    assert [rule for rule, count in counts.items() if not count.judged] == []
    assert failed(counts) == set()


def test_every_fault_belongs_to_a_rule():
    assert set(FAULTS) | set(ALSO) | set(SETTINGS_FAULTS) | ALONE <= {rule.id for rule in rules()}


@pytest.mark.parametrize("number", range(CLINICS))
def test_rules_find_their_faults_and_no_other_rule_does(clinic, number):
    broken = TOGETHER[number::CLINICS]
    for place, rule in enumerate(broken):
        break_(clinic, rule, place)
    fill_clocks(clinic)
    found, made = failed(counted(clinic)), {rule.id for rule in broken}
    assert made - found == set()
    assert found - made <= {other for rule in made for other in ALSO.get(rule, ())}


@pytest.mark.parametrize("rule", [rule for rule in rules() if rule.id in ALONE], ids=lambda rule: rule.id)
def test_a_rule_about_the_whole_finds_its_fault_and_no_other_rule_does(clinic, rule):
    break_(clinic, rule, 0)
    fill_clocks(clinic)
    found = failed(counted(clinic))
    assert rule.id in found
    assert found - {rule.id} <= ALSO.get(rule.id, set())


@pytest.mark.parametrize("rule", SETTINGS_FAULTS)
def test_a_rule_about_the_settings_finds_its_fault_and_no_other_rule_does(clinic, rule):
    inputs.prepare(clinic, settings.from_dict(SETTINGS | SETTINGS_FAULTS[rule]))
    assert failed(counted(clinic)) == {rule}


# Rules across rows that need no more than the columns every row has.
JUDGE_BLANKS = {
    "case_people_supervises_another", "equipment_marks_fit_hours", "equipment_minutes_per_mark", "equipment_twice",
    "files_mended", "stock_controlled_counted", "stock_twice", "vitals_key",
}  # fmt: skip


def needs_a_value(rule) -> bool:
    """False where a blank is what the rule looks for, or where its column is one that a row must have."""
    required = schema.TABLES[rule.table].required if rule.table in schema.TABLES else ()
    return not (
        rule.rule in ("required", "filled", "present", "unique")
        or "IS NULL" in rule.rule
        or rule.id in JUDGE_BLANKS
        or (rule.within_row and rule.columns[0] in required)
    )


def test_a_blank_row_is_judged_by_no_rule_that_needs_its_values(clinic):
    for table in schema.TABLES.values():
        blank = ", ".join(f'"{column.name}" = NULL' for column in table.columns if not column.required)
        clinic.execute(f"UPDATE {table.name} SET {blank or 'source_row = source_row'}")
    clinic.execute("UPDATE files SET lines = NULL")
    fill_clocks(clinic)
    judged = {rule for rule, count in counted(clinic).items() if count.judged}
    assert judged & {rule.id for rule in rules() if needs_a_value(rule)} == set()


def test_without_rows_only_the_rule_that_asks_for_cases_judges(clinic):
    for name in (*schema.TABLES, "files"):
        clinic.execute(f"DELETE FROM {name}")
    assert {rule for rule, count in counted(clinic).items() if count.judged} == {"cases_present"}
