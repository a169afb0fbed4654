"""The same SQL text gives the same rows on Apache Spark, on a cluster of one master and two workers on this machine.

Needs Java 17 and the extra [spark]; ROUNDS_REQUIRE_SPARK=1 makes their absence an error, as .ci/run does. Run it by
itself, `pytest -n 0 tests/spark`: in a worker of pytest-xdist pyspark takes the process for a doctest run and ends it.
"""

import importlib.util
import os
import shutil
import socket
import subprocess
import time
from pathlib import Path

import duckdb
import pytest

from pipeline import intake, measures, models, schema, settings
from pipeline.engines.pool import pool
from pipeline.models.graph import model_files
from pipeline.simulate import write_clinic

MISSING = [
    name
    for name, found in (("pyspark", importlib.util.find_spec("pyspark")), ("java", shutil.which("java")))
    if not found
]
if MISSING and os.environ.get("ROUNDS_REQUIRE_SPARK"):
    raise RuntimeError(f"ROUNDS_REQUIRE_SPARK is set but this machine has no {' and no '.join(MISSING)}")
pytestmark = pytest.mark.skipif(
    bool(MISSING), reason=f"no {' and no '.join(MISSING)} here: pip install -e '.[spark]' and Java 17 run these tests"
)

SITES = {"north": 11, "south": 12}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(port: int, seconds: float = 60) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        with socket.socket() as probe:
            probe.settimeout(1)
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.2)
    raise TimeoutError(f"nothing listens on port {port}")


@pytest.fixture(scope="module")
def master(tmp_path_factory):
    """spark:// address of a standalone cluster of one master and two workers on loopback."""
    import pyspark

    home = Path(pyspark.__file__).parent
    port = free_port()
    environment = {**os.environ, "SPARK_LOCAL_IP": "127.0.0.1", "SPARK_HOME": str(home),
                   "SPARK_WORKER_DIR": str(tmp_path_factory.mktemp("workers"))}  # fmt: skip
    os.environ.update(SPARK_LOCAL_IP="127.0.0.1")
    start = [str(home / "bin" / "spark-class"), "org.apache.spark.deploy.master.Master", "--host", "127.0.0.1",
             "--port", str(port), "--webui-port", str(free_port())]  # fmt: skip
    running = [subprocess.Popen(start, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)]
    wait_for(port)
    address = f"spark://127.0.0.1:{port}"
    for _ in range(2):
        worker = [str(home / "bin" / "spark-class"), "org.apache.spark.deploy.worker.Worker", "--cores", "1",
                  "--memory", "1g", "--host", "127.0.0.1", "--webui-port", str(free_port()), address]  # fmt: skip
        running.append(subprocess.Popen(worker, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL))
    yield address
    for process in reversed(running):
        process.terminate()
    for process in running:
        process.wait(timeout=30)


@pytest.fixture(scope="module")
def pooled(tmp_path_factory):
    """A pool of two small clinics, each loaded from its own exports."""
    dest = tmp_path_factory.mktemp("pool")
    for site, seed in SITES.items():
        clinic = tmp_path_factory.mktemp(site)
        write_clinic(clinic, seed=seed, months=4, cases=60)
        chosen = settings.read(clinic / settings.FILE)
        with duckdb.connect() as db:
            intake.load(db, chosen, clinic, None, None)
            db.execute("UPDATE cases SET site = ?", [site])
            models.prepare(db, chosen)
            pool(db, site, dest)
    return dest, chosen


@pytest.fixture(scope="module")
def at_home(pooled):
    """The pool loaded back into DuckDB and computed there."""
    dest, chosen = pooled
    db = duckdb.connect()
    for table in schema.TABLES.values():
        db.execute(schema.create_table(table))
        names = ", ".join(f'"{name}"' for name, _ in schema.stored_columns(table))
        db.execute(
            f"INSERT INTO {table.name} SELECT {names} FROM read_parquet($path, hive_partitioning = false)",
            {"path": str(dest / table.name / "*" / "*" / "*.parquet")},
        )
    db.execute("CREATE TABLE quarantine AS FROM read_parquet($path)", {"path": str(dest / "quarantined" / "*.parquet")})
    models.prepare(db, chosen)
    models.build(db, chosen)
    month = measures.compute(db, chosen)
    yield db, month
    db.close()


def rounded(db, name: str) -> list[tuple]:
    """Rows of a table in a total order, floats to 9 significant decimals as `results` rounds them."""
    columns = db.execute(f"DESCRIBE {name}").fetchall()
    chosen = ", ".join(
        f'floor("{column}" * 1e9 + 0.5) / 1e9 AS "{column}"' if kind == "DOUBLE" else f'"{column}"'
        for column, kind, *_ in columns
    )
    return db.execute(f"SELECT {chosen} FROM {name} ORDER BY ALL").fetchall()


def test_every_model_and_the_results_are_equal(master, pooled, at_home, tmp_path):
    from pipeline.engines import spark

    dest, chosen = pooled
    home, month = at_home
    work = tmp_path / "models"
    with spark.session(master) as session:
        session.conf.set("spark.sql.shuffle.partitions", "2")
        away, used = spark.results(session, dest, work, chosen)
    assert used == month
    different = []
    for name in model_files("20_cases", "30_measures", "40_results"):
        away.execute(f"CREATE OR REPLACE TABLE {name} AS FROM read_parquet('{work}/{name}/*.parquet')")
        if rounded(away, name) != rounded(home, name):
            different.append(name)
    assert different == []
    assert rounded(away, "results") == rounded(home, "results")
    assert len(rounded(home, "results")) > 1000
    away.close()


def test_pooling_again_changes_nothing(pooled, tmp_path):
    dest, _ = pooled
    listing = {path.relative_to(dest): path.read_bytes() for path in dest.rglob("part.parquet")}
    clinic = tmp_path / "north"
    write_clinic(clinic, seed=SITES["north"], months=4, cases=60)
    chosen = settings.read(clinic / settings.FILE)
    (clinic / "patient_key").write_bytes(b"")
    (clinic / "patient_key").unlink()
    with duckdb.connect() as db:
        intake.load(db, chosen, clinic, None, None)
        db.execute("UPDATE cases SET site = 'north'")
        models.prepare(db, chosen)
        again = tmp_path / "pool"
        first = pool(db, "north", again)
        before = {path.relative_to(again): path.read_bytes() for path in again.rglob("part.parquet")}
        assert pool(db, "north", again) == first
    assert {path.relative_to(again): path.read_bytes() for path in again.rglob("part.parquet")} == before
    assert before.keys() <= listing.keys()
