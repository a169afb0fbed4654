"""The same SQL text gives the same rows on Apache Spark, on a cluster of one master and two workers on this machine.

Run it by itself, `pytest -n 0 tests/spark`: see tests/conftest.py for what pyspark does in a worker of pytest-xdist.
"""

import pytest

from pipeline import database
from pipeline.engines.one_machine import register_models
from pipeline.models.graph import model_files

LAYERS = ("20_cases", "30_measures", "40_results", "50_stock", "60_training")
BESIDE = ("50_stock", "60_training")

# Disturbances that eight months of two small clinics need not hold.
MAY_BE_EMPTY = {"artefact_no_pulse_signal", "artefact_not_placed", "artefact_disconnected"}


@pytest.fixture(scope="module")
def away(master, pooled, tmp_path_factory):
    """(db, report month): every model and `results` of the pool, computed by Spark."""
    from pipeline.engines import spark

    dest, chosen = pooled
    work = tmp_path_factory.mktemp("models")
    with database.connect() as db:
        with spark.session(master) as session:
            session.conf.set("spark.sql.shuffle.partitions", "2")
            month = spark.results(session, db, dest, work, chosen)
            spark.build(session, BESIDE, work)
        register_models(db, work, model_files(*BESIDE))
        yield db, month


def rounded(db, name: str) -> list[tuple]:
    """Rows of a table in a total order, numbers to 9 decimals as `results` rounds them."""
    columns = db.execute(f"DESCRIBE {name}").fetchall()
    chosen = ", ".join(
        f'floor("{column}" * 1e9 + 0.5) / 1e9 AS "{column}"' if kind == "DOUBLE" else f'"{column}"'
        for column, kind, *_ in columns
    )
    return [tuple(column for column, *_ in columns)] + db.execute(
        f"SELECT {chosen} FROM {name} ORDER BY ALL"
    ).fetchall()


@pytest.mark.parametrize("name", model_files(*LAYERS))
def test_rows_of_a_model_are_equal(away, at_home, name):
    here = rounded(at_home[0], name)
    assert rounded(away[0], name) == here
    assert len(here) > 1 or name in MAY_BE_EMPTY


def test_results_are_equal_in_the_same_order(away, at_home):
    (there, month), (here, month_here) = away, at_home
    assert month == month_here
    rows = here.execute("FROM results").fetchall()
    assert there.execute("FROM results").fetchall() == rows
    assert len(rows) > 1000
