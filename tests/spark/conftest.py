"""A pool of two small clinics; a cluster of one master and two workers, and a Spark Connect server, on loopback.

Needs Java 17 and the extra [spark]; ROUNDS_REQUIRE_SPARK=1 makes their absence an error, as .ci/run does.
"""

import importlib.util
import os
import shutil
import socket
import subprocess
import time
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline import database, intake, models, settings
from pipeline.engines import one_machine
from pipeline.engines.pool import pool
from pipeline.intake.identity import key_of
from pipeline.simulate import write_clinic

SITES = {"north": 11, "south": 12}
BESIDE = ("50_stock", "60_training")

# Short runs spend their time compiling: one quick compiler and one plain collector take half as long.
SHORT_RUN = "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(port: int, seconds: float = 90) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        with socket.socket() as probe:
            probe.settimeout(1)
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.2)
    raise TimeoutError(f"nothing listens on port {port}")


@pytest.fixture(scope="session")
def spark_home():
    """Where pyspark keeps Spark; skips where it or Java is missing."""
    missing = [
        name
        for name, found in (("pyspark", importlib.util.find_spec("pyspark")), ("java", shutil.which("java")))
        if not found
    ]
    if missing:
        said = f"no {' and no '.join(missing)} here: pip install -e '.[spark]' and Java 17 run these tests"
        if os.environ.get("ROUNDS_REQUIRE_SPARK"):
            pytest.fail(f"ROUNDS_REQUIRE_SPARK is set, but {said}")
        pytest.skip(said)
    import pyspark

    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("SPARK_LOCAL_IP", "127.0.0.1")
        patched.setenv("JDK_JAVA_OPTIONS", SHORT_RUN)
        yield Path(pyspark.__file__).parent


@pytest.fixture(scope="session")
def started(spark_home, tmp_path_factory):
    """started(words...) runs one of Spark's scripts until the tests end; the last started is stopped first."""
    running = []
    environment = {**os.environ, "SPARK_HOME": str(spark_home),
                   "SPARK_WORKER_DIR": str(tmp_path_factory.mktemp("workers"))}  # fmt: skip

    def start(script: str, *words: str) -> None:
        command = [str(spark_home / "bin" / script), *words]
        running.append(
            subprocess.Popen(
                command,
                env=environment,
                cwd=environment["SPARK_WORKER_DIR"],
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        )

    yield start
    for process in reversed(running):
        process.terminate()
    for process in running:
        process.wait(timeout=30)


@pytest.fixture(scope="session")
def master(started):
    """spark:// address of a standalone cluster of one master and two workers on loopback."""
    port = free_port()
    started("spark-class", "org.apache.spark.deploy.master.Master", "--host", "127.0.0.1", "--port", str(port),
            "--webui-port", str(free_port()))  # fmt: skip
    wait_for(port)
    address = f"spark://127.0.0.1:{port}"
    for _ in range(2):
        started("spark-class", "org.apache.spark.deploy.worker.Worker", "--cores", "1", "--memory", "1g",
                "--host", "127.0.0.1", "--webui-port", str(free_port()), address)  # fmt: skip
    return address


@pytest.fixture(scope="session")
def connect(started):
    """sc:// address of a Spark Connect server on loopback."""
    port = free_port()
    asked = {"spark.connect.grpc.binding.address": "127.0.0.1", "spark.connect.grpc.binding.port": port,
             "spark.ui.enabled": "false", "spark.sql.shuffle.partitions": 2}  # fmt: skip
    set_so = [word for name, value in asked.items() for word in ("--conf", f"{name}={value}")]
    server = "org.apache.spark.sql.connect.service.SparkConnectServer"
    started("spark-submit", "--master", "local[2]", "--class", server, *set_so, "spark-internal")
    wait_for(port)
    return f"sc://127.0.0.1:{port}"


@pytest.fixture(scope="session")
def clinics(tmp_path_factory):
    """[(clinic folder, its settings)] of two invented clinics, not yet loaded."""
    made = []
    for site, seed in SITES.items():
        clinic = tmp_path_factory.mktemp(site)
        write_clinic(clinic, seed=seed, months=4, cases=60)
        chosen = replace(settings.read(clinic / settings.FILE), name=site)
        if site == "south":  # where two shelves hold a drug, nobody can tell from which it came
            chosen = replace(chosen, items=dict(list(chosen.items.items())[::3]))
        made.append((clinic, chosen))
    return made


@pytest.fixture(scope="session")
def pooled(clinics, tmp_path_factory):
    """(pool, settings of the group) of the two clinics, each loaded from its own exports."""
    dest = tmp_path_factory.mktemp("pool")
    for clinic, chosen in clinics:
        with database.connect(clinic / database.FILE) as db:
            intake.load(db, chosen, clinic, None, None)
            db.execute("UPDATE cases SET site = ?", [chosen.name])
            models.prepare(db, chosen)
            pool(db, chosen, key_of(clinic), dest)
    return dest, clinics[0][1]


@pytest.fixture(scope="session")
def at_home(pooled):
    """(db, report month): every model and `results` of the pool, computed by DuckDB."""
    dest, chosen = pooled
    with database.connect() as db:
        month = one_machine.results(db, dest, chosen)
        models.build_layer(db, BESIDE)
        yield db, month


@pytest.fixture
def group(pooled, tmp_path):
    """A group's folder: nothing but its clinic.toml."""
    clinic = tmp_path / "group"
    clinic.mkdir()
    (clinic / settings.FILE).write_text('zone = "Europe/Berlin"\nname = "Both clinics"\n', encoding="utf-8")
    return clinic
