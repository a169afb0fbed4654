"""Holds, stretches, episodes and exposures of hundreds of random cases: SQL against slow plain Python."""

from collections import Counter

import duckdb
import odd_clinics
import pytest
from compared import fill, same
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from reference_cases import cases_of
from reference_exposures import MEASURES, exposure, held, limit_of

from pipeline import models, schema
from pipeline.models.graph import build_order, model_files
from pipeline.settings import from_dict

PARAMETERS = ("etco2", "spo2", "heart_rate", "map", "sap", "fico2")
WANTED = ("stg_cases", "case_windows", "case_numbers", "artefact_disconnected", "artefact_no_pulse_signal",
          "artefact_not_placed", "removed_readings", "vital_readings", "case_limits", "parameter_holds",
          "parameter_coverage", "exposure_episodes", "case_exposures")  # fmt: skip


@pytest.fixture(scope="module")
def built():
    """built(record) -> a database with the models of exposure over the record; the tables of thresholds stay."""
    files = {name: path for name, path in model_files("20_cases").items() if name in WANTED}
    order = [(name, files[name].read_text(encoding="utf-8")) for name in build_order(files)]
    with duckdb.connect() as db:
        models.prepare(db, from_dict({"zone": "UTC"}))

        def build(record):
            for table in schema.TABLES.values():
                db.execute(f"DELETE FROM {table.name}")
            fill(db, record)
            for name, sql in order:
                db.execute(f"CREATE OR REPLACE TABLE {name} AS {sql}")
            return db

        yield build


@st.composite
def batches(draw):
    """A record of 40 cases without anything but readings."""
    chance = draw(st.randoms(use_true_random=True))
    record = {name: [] for name in schema.TABLES}
    for number in range(40):
        case, vitals, _, _ = odd_clinics.a_case(chance, number, "UTC", PARAMETERS)
        record["cases"].append(case)
        record["vitals"] += vitals
    return record


@settings(
    max_examples=24,
    derandomize=True,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.generate],
)
@given(batches())
def test_random_cases(built, record):
    db = built(record)
    holds = grouped(db, "SELECT case_id, parameter, taken_s, val, hold_s, stretch_no - 1 FROM parameter_holds", 2)
    coverage = grouped(db, "SELECT case_id, parameter, readings, observed_s FROM parameter_coverage", 2)
    exposures = grouped(db, "SELECT case_id, measure, has, beyond_min, observed_min, area FROM case_exposures"
                            " WHERE assessable = 1", 2)  # fmt: skip
    episodes = grouped(db, "SELECT case_id, measure, parameter, from_s, beyond_s, readings FROM exposure_episodes", 3)
    for case_id, case in cases_of(record).items():
        if case["windowed"]:
            for parameter in PARAMETERS:
                rows = held(case["valid"].get(parameter, []), case["start"], case["end"])
                found = Counter(holds.get((case_id, parameter), []))
                assert found <= Counter(rows), (case_id, parameter)
                assert found >= Counter(told(case, parameter, rows)), (case_id, parameter)
                observed = [(len(rows), sum(row[2] for row in rows))] if rows else []
                assert coverage.get((case_id, parameter), []) == observed, (case_id, parameter)
        for measure in MEASURES:
            expected = exposure(case, measure)
            found = exposures.get((case_id, measure))
            assert (found is None) == (expected is None), (case_id, measure)
            if expected is not None:
                numbers = [expected[name] for name in ("has", "beyond_min", "observed_min", "area")]
                close = [same(ours, theirs) for ours, theirs in zip(found[0], numbers, strict=True)]
                assert all(close), (case_id, measure, found, numbers)
                runs = [(run[0][0], sum(row[2] for row in run), len(run)) for run in expected["episodes"]]
                assert episodes.get((case_id, measure, expected["parameter"]), []) == runs, (case_id, measure)


def told(case, parameter, rows):
    """The rows that begin or end a stretch or are past a limit, which a model of telling readings must have."""
    limits = [limit_of(case, measure) for measure in MEASURES]
    past = [limit[1] for limit in limits if limit and limit[0] == parameter]
    stretches = [None, *(row[3] for row in rows), None]
    return [
        row
        for before, row, after in zip(stretches, rows, stretches[2:], strict=False)
        if not before == row[3] == after or any(beyond(row[1]) for beyond in past)
    ]


def grouped(db, sql, keys):
    """{the first columns of a row: [the other columns, in order]}"""
    found = {}
    for row in db.execute(f"{sql} ORDER BY ALL").fetchall():
        found.setdefault(row[:keys], []).append(row[keys:])
    return found
