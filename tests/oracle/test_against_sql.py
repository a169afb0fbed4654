"""`results` against a second reading of the definitions, row for row: on odd little clinics and on an invented one."""

from functools import cache

import compared
import odd_clinics
import pytest
import reference
from hypothesis import HealthCheck, Phase, given, settings

from pipeline import intake, simulate
from pipeline import settings as clinic_settings
from pipeline.models import graph


@pytest.fixture(autouse=True)
def models_parsed_once(monkeypatch):
    """What a model reads does not change between examples: asked once, it spares most of the time."""
    monkeypatch.setattr(graph, "tables_read", cache(graph.tables_read))


@settings(
    max_examples=30,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.function_scoped_fixture],
    phases=[Phase.explicit, Phase.generate],
)
@given(odd_clinics.clinics())
def test_odd_little_clinics(clinic):
    assert compared.disagreements(*clinic) == []


def test_an_invented_clinic_with_its_faults(tmp_path):
    simulate.write_clinic(tmp_path, seed=11, months=14, cases=150, faults=True)
    chosen = clinic_settings.read(tmp_path / "clinic.toml")
    with compared.duckdb.connect() as db:
        intake.load(db, chosen, tmp_path)
        found = compared.pipeline_results(db, chosen)
        expected = reference.results(compared.record_of(db), chosen)
    assert len(found) > 100_000
    assert compared.differences(found, expected) == []
