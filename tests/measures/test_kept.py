"""What is kept from last time gives the rows that everything computed anew gives, whatever changed in between."""

from pathlib import Path

import duckdb
import pytest

from pipeline import database, intake, measures, models, schema
from pipeline import settings as clinic_settings
from pipeline.measures.periods import computed_under
from pipeline.models import kept
from pipeline.models.build import CASE_LAYERS, build_models, models_of
from pipeline.models.graph import tables_read
from pipeline.simulate import write_clinic

LOADED = (*schema.TABLES, "quarantine", "set_aside_rows")
OF_CASES = ("cases", "case_people", "vitals", "drugs", "events")
MODELS = models_of(*CASE_LAYERS)
BY_CASE = {name: model for name, model in MODELS.items() if model.built == "by case"}


@pytest.fixture(scope="module")
def invented(tmp_path_factory):
    """(path of a database with four months of an invented clinic loaded and nothing computed, its settings)"""
    clinic = tmp_path_factory.mktemp("clinic")
    write_clinic(clinic, seed=11, months=4, cases=90)
    chosen = clinic_settings.read(clinic / clinic_settings.FILE)
    with database.connect(clinic / database.FILE) as db:
        intake.load(db, chosen, clinic, None, None)
        models.prepare(db, chosen)
    return clinic / database.FILE, chosen


def copied(path: Path, which: str = "TRUE"):
    """An in-memory database with the loaded rows of the cases that a condition names, and of no case."""
    db = duckdb.connect()
    database.settle(db)
    db.execute(f"ATTACH '{path}' AS loaded (READ_ONLY)")
    for table in LOADED:
        part = f"case_id IN (SELECT case_id FROM loaded.cases WHERE {which})" if table in OF_CASES else "TRUE"
        db.execute(f"CREATE TABLE {table} AS FROM loaded.{table} WHERE {part}")
    db.execute("DETACH loaded")
    return db


def computed(db, chosen, month=None):
    models.prepare(db, chosen)
    models.build(db, chosen)
    return measures.compute(db, chosen, month)


def rows_of(db, table: str) -> list[tuple]:
    """Rows in one order; numbers to 9 significant digits, as sums in another order end in other digits."""
    answer = db.execute(f"SELECT * FROM {table}")
    rows = [
        tuple(float(f"{cell:.9g}") if isinstance(cell, float) else cell for cell in row) for row in answer.fetchall()
    ]
    return sorted(rows, key=repr)


def anew(db):
    """The same loaded rows in a database in which nothing is kept."""
    other = duckdb.connect()
    database.settle(other)
    for table in LOADED:
        other.register("rows_there", db.sql(f"FROM {table}").to_arrow_table())
        other.execute(f"CREATE TABLE {table} AS FROM rows_there")
        other.unregister("rows_there")
    return other


def assert_same_as_anew(db, chosen, month=None):
    other = anew(db)
    assert computed(other, chosen, month) is not None
    for table in (*MODELS, "results", "report_periods"):
        assert rows_of(db, table) == rows_of(other, table), table
    other.close()


LAST = "coalesce(induction_at, intubation_at, vaporizer_on_at) >= DATE '{}'"
CHANGES = {
    "nothing": [],
    "a case of an old month corrected": ["UPDATE cases SET asa_class = 5, species = 'cat' WHERE case_id = '{old}'"],
    "a late row": [
        "INSERT INTO vitals SELECT * REPLACE (taken_at_s + 60 AS taken_at_s, 61 AS value, 99999 AS source_row) "
        "FROM vitals WHERE case_id = '{old}' AND parameter = 'etco2'"
    ],
    "a reading corrected": ["UPDATE vitals SET value = 20 WHERE case_id = '{old}' AND parameter = 'temperature'"],
    "a row that disappears": ["DELETE FROM events WHERE case_id IN (SELECT case_id FROM events LIMIT 1)"],
    "a case that disappears": [
        f"DELETE FROM {table} WHERE case_id = '{{old}}'" for table in OF_CASES
    ],
    "a case that moves to another month": [
        "UPDATE cases SET induction_at = induction_at + INTERVAL 31 DAY, induction_at_s = induction_at_s + 2678400, "
        "extubation_at_s = extubation_at_s + 2678400, vaporizer_off_at_s = vaporizer_off_at_s + 2678400 "
        "WHERE case_id = '{old}'"
    ],
    "a reading set aside": [
        "INSERT INTO set_aside_rows SELECT 'vitals', source_file, source_row, 'a rule' FROM vitals "
        "WHERE case_id = '{old}' LIMIT 5"
    ],
    "a machine's change of an old month": [
        "DELETE FROM equipment WHERE action = 'changed' AND equipment.at < DATE '{second}'"
    ],
    "a leak test and a store's row": [
        "DELETE FROM equipment WHERE action = 'leak_tested' AND equipment.at < DATE '{second}'",
        "DELETE FROM stock WHERE stock.at < DATE '{second}'",
    ],
    "a month that is no longer complete": [
        "INSERT INTO quarantine (table_name, month_no, site) "
        "SELECT 'cases', {month_no}, cases.site FROM cases, range(200) WHERE case_id = '{old}'"
    ],
    "later news of an animal": ["UPDATE cases SET outcome = 'died', outcome_at_s = extubation_at_s + 60 "
                                "WHERE case_id = '{old}'"],
    "a row that says that months have gone by": [
        "UPDATE equipment SET \"at\" = equipment.at + INTERVAL 60 DAY, at_s = at_s + 5184000 "
        "WHERE at_s = (SELECT max(at_s) FROM equipment)"
    ],
}  # fmt: skip


def facts(db) -> dict:
    """An old case with readings and an extubation, and months, for the changes above."""
    old, month_no, first = db.execute("""
        SELECT case_id, month_no, start_day FROM case_windows JOIN cases USING (case_id)
        WHERE extubation_at IS NOT NULL AND asa_class < 4 AND vaporizer_off_at IS NOT NULL
            AND induction_at IS NOT NULL AND end_s IS NOT NULL
            AND case_id IN (SELECT case_id FROM vitals WHERE parameter = 'temperature')
            AND case_id IN (SELECT case_id FROM vitals WHERE parameter = 'etco2')
        ORDER BY start_s LIMIT 1
    """).fetchone()
    second = f"{(month_no + 1) // 12:04d}-{(month_no + 1) % 12 + 1:02d}-01"
    return {"old": old, "month_no": month_no, "first": first, "second": second}


@pytest.mark.parametrize("change", CHANGES)
def test_kept_and_anew_are_the_same_after(change, invented):
    path, chosen = invented
    db = copied(path)
    computed(db, chosen)
    before = rows_of(db, "results")
    known = facts(db)
    for sql in CHANGES[change]:
        db.execute(sql.format(**known))
    assert not kept.changes(db, chosen, MODELS).everything
    computed(db, chosen)
    assert (rows_of(db, "results") == before) == (change == "nothing")
    assert_same_as_anew(db, chosen)
    db.close()


def test_month_after_month_is_the_same_as_all_at_once(invented):
    path, chosen = invented
    db = copied(path, "induction_at < DATE '1900-01-01'")
    db.execute(f"ATTACH '{path}' AS loaded (READ_ONLY)")
    months = db.execute("SELECT DISTINCT month(induction_at) AS month FROM loaded.cases ORDER BY month").fetchall()
    for (month,) in months:
        for table in OF_CASES:
            db.execute(
                f"""INSERT INTO {table} FROM loaded.{table} WHERE case_id IN
                (SELECT case_id FROM loaded.cases WHERE month(induction_at) IS NOT DISTINCT FROM $month)""",
                {"month": month},
            )
        computed(db, chosen)
    db.execute("DETACH loaded")
    assert_same_as_anew(db, chosen)
    db.close()


def test_only_what_changed_is_computed_again(invented):
    path, chosen = invented
    db = copied(path)
    computed(db, chosen)
    known = facts(db)
    db.execute(f"UPDATE cases SET weight_kg = weight_kg * 1.01 WHERE case_id = '{known['old']}'")
    assert kept.changes(db, chosen, MODELS) == kept.Changes(everything=False, cases=1)
    models.build(db, chosen)
    assert {row[0] for row in db.execute("FROM stale_months").fetchall()} == {known["month_no"]}
    measures.compute(db, chosen)
    counted = {row[0] for row in db.execute("SELECT DISTINCT length(period) FROM group_counts").fetchall()}
    periods = db.execute("SELECT count(DISTINCT period) FROM group_counts").fetchone()[0]
    assert (counted, periods) == ({3, 7, 16}, 3)
    db.close()


def test_a_dose_of_a_case_without_a_start_counts_in_its_own_month(invented):
    path, chosen = invented
    db = copied(path)
    clocks = [name for name in kept.columns(db, "cases") if name.endswith(("_at", "_at_s"))]
    gone = "case_id = (SELECT max(case_id) FROM drugs WHERE kind = 'bolus' AND given_at IS NOT NULL)"
    db.execute(f"UPDATE cases SET {', '.join(f'{name} = NULL' for name in clocks)} WHERE {gone}")
    db.execute(f"DELETE FROM vitals WHERE {gone}")
    computed(db, chosen)
    assert db.execute(f"SELECT count(*) FROM case_windows WHERE {gone}").fetchone() == (0,)
    before = rows_of(db, "total_months")
    db.execute(f"UPDATE drugs SET amount = amount * 2 WHERE {gone}")
    computed(db, chosen)
    assert_same_as_anew(db, chosen)
    assert rows_of(db, "total_months") != before
    db.close()


def test_another_report_month_needs_only_other_twelve_months(invented):
    path, chosen = invented
    db = copied(path)
    computed(db, chosen)
    first = db.execute("SELECT min(period) FROM report_periods WHERE kind = 'month'").fetchone()[0]
    assert computed(db, chosen, first) == first
    assert_same_as_anew(db, chosen, first)
    db.close()


@pytest.mark.parametrize(
    "change",
    ["UPDATE cases SET weight_kg = weight_kg * 1.5", "DELETE FROM events WHERE event <> 'other'"],
    ids=["most cases corrected", "complications are no longer charted"],
)
def test_what_touches_most_cases_builds_everything_anew(change, invented):
    path, chosen = invented
    db = copied(path)
    computed(db, chosen)
    before = rows_of(db, "results")
    db.execute(change)
    computed(db, chosen)
    assert rows_of(db, "results") != before
    assert_same_as_anew(db, chosen)
    db.close()


def test_a_site_that_begins_to_chart_complications_builds_everything_anew(invented):
    path, chosen = invented
    db = copied(path)
    other = "case_id IN (SELECT case_id FROM cases WHERE hash(case_id) % 3 = 0)"
    db.execute(f"UPDATE cases SET site = 'elsewhere' WHERE {other}")
    db.execute(f"DELETE FROM events WHERE {other}")
    computed(db, chosen)
    db.execute(f"INSERT INTO events BY NAME SELECT case_id, 'other' AS event FROM cases WHERE {other} LIMIT 1")
    models.prepare(db, chosen)
    build_models(db, {name: model for name, model in MODELS.items() if model.built == "before cases"})
    assert kept.changes(db, chosen, MODELS).everything
    computed(db, chosen)
    assert_same_as_anew(db, chosen)
    db.close()


def test_other_settings_build_everything_anew(invented):
    path, chosen = invented
    db = copied(path)
    computed(db, chosen)
    other = clinic_settings.from_dict({"zone": chosen.zone, "windows": {"hold_max_min": 7}})
    models.prepare(db, other)
    assert kept.changes(db, other, MODELS).everything
    computed(db, other)
    assert_same_as_anew(db, other)
    db.close()


def test_other_sql_seeds_or_code_build_everything_anew(invented, monkeypatch, tmp_path):
    _, chosen = invented
    before = kept.fingerprint(chosen)
    for kind in ("models/new.sql", "seeds/new.csv"):
        root = tmp_path / kind.replace("/", "_")
        (root / kind).parent.mkdir(parents=True)
        (root / kind).write_text("one", encoding="utf-8")
        monkeypatch.setattr(kept, "folder", lambda name, root=root: root)
        one = kept.fingerprint(chosen)
        (root / kind).write_text("other", encoding="utf-8")
        assert one != kept.fingerprint(chosen) != before


def test_results_that_another_run_put_there_are_not_kept(invented):
    path, chosen = invented
    db = copied(path)
    computed(db, chosen)
    expected = rows_of(db, "results")
    assert computed_under(db) == kept.fingerprint(chosen)
    db.execute("CREATE OR REPLACE TABLE results AS FROM results LIMIT 10")
    computed(db, chosen)
    assert rows_of(db, "results") == expected
    db.close()


@pytest.mark.parametrize("stop", ["case_exposures", "share_cells", "machine_clock"])
def test_a_run_that_was_killed_is_done_again(stop, invented, monkeypatch):
    path, chosen = invented
    db = copied(path)
    computed(db, chosen)
    db.execute(f"UPDATE cases SET asa_class = 5 WHERE case_id = '{facts(db)['old']}'")

    class Killed(Exception):
        pass

    class Stops:
        def step(self, text, *_):
            if text.endswith(stop):
                raise Killed

    with pytest.raises(Killed):
        models.build(db, chosen, Stops())
    computed(db, chosen)
    assert_same_as_anew(db, chosen)
    db.close()


def test_models_built_by_case_need_only_the_rows_of_the_case(invented):
    """The claim of their header: a database with half of the cases gives these cases the same rows."""
    path, chosen = invented
    half = "hash(case_id) % 2 = 0"
    whole, part = copied(path), copied(path, half)
    for db in (whole, part):
        models.prepare(db, chosen)
        models.build(db, chosen)
    for name in BY_CASE:
        whole.execute(f"CREATE TEMP TABLE here AS FROM {name} WHERE {half}")
        assert rows_of(whole, "here") == rows_of(part, name), name
        assert rows_of(part, name) != [] or name.startswith("artefact"), name
        whole.execute("DROP TABLE here")


def test_models_built_by_case_read_nothing_else():
    local = kept.by_case(MODELS)
    staging = models_of("10_staging")
    for name in BY_CASE:
        for read in tables_read(MODELS[name].sql):
            first = read in MODELS and MODELS[read].built == "before cases"
            assert read in local or read in staging or first or read.startswith("seed_"), (name, read)


def test_models_built_by_month_or_period_read_nothing_built_whole_but_by_case_and_month(invented):
    path, chosen = invented
    db = copied(path)
    computed(db, chosen)
    results = models_of("40_results")
    for name, model in {**MODELS, **results}.items():
        if model.built in ("by month", "by year", "by period"):
            for read in kept.read_by({name: model}, {**MODELS, **results}):
                whole = read in MODELS and MODELS[read].built == ""
                assert not whole or "case_id" in kept.columns(db, read), (name, read)
                of_cases = read in MODELS or "case_id" in kept.columns(db, read)
                assert of_cases or read in results or read.startswith(("seed_", "report_")), (name, read)
    db.close()


def test_every_word_after_built_is_known():
    every = {**MODELS, **models_of("40_results")}
    kept_by = {f"by {what}" for what in ("case", "month", "year", "period")}
    assert {model.built for model in every.values()} == {"", "as a view", "before cases"} | kept_by
    assert build_models(duckdb.connect(), {}) == {}
