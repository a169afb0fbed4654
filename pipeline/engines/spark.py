"""The models on Apache Spark, over pooled Parquet: the text of sql/models/ as it stands.

Spark computes layers 10 to 40; what comes back is counts, and Python makes `results` of them as it does at home.
A real cluster needs a folder that every worker can read: object storage or a network share.
"""

from contextlib import contextmanager
from pathlib import Path

import duckdb

from pipeline import schema
from pipeline.engines.pool import QUARANTINED, SEEDS
from pipeline.errors import SettingsFault
from pipeline.measures.compute import RESULTS_LAYER, assemble
from pipeline.measures.periods import write_periods
from pipeline.models.graph import build_order, model_files
from pipeline.settings import Settings

LAYERS = ("10_staging", "20_cases", "30_measures")
SET_ASIDE = "table_name STRING, source_file BIGINT, source_row BIGINT, rule_id STRING"

# Spark's types of the columns a canonical table stores.
TYPES = {"VARCHAR": "STRING", "BIGINT": "BIGINT", "DOUBLE": "DOUBLE", "BOOLEAN": "BOOLEAN",
         "TIMESTAMP": "TIMESTAMP_NTZ", "DATE": "DATE"}  # fmt: skip


@contextmanager
def session(master: str):
    """A Spark session: master is local[N], spark://host:port, or sc://host:port for Spark Connect.

    Raises SettingsFault where the extra is not installed.
    """
    try:
        from pyspark.sql import SparkSession
    except ImportError as cause:
        raise SettingsFault(
            where="--engine spark",
            found="no pyspark in this environment",
            wanted="the extra for Spark",
            fix="pip install 'anesthesia-rounds[spark]', and Java 17 where the driver runs",
        ) from cause
    builder = SparkSession.builder
    builder = builder.remote(master) if master.startswith("sc://") else builder.master(master)
    spark = (
        builder.appName("anesthesia-rounds")
        .config("spark.sql.session.timeZone", "UTC")
        .config("spark.sql.ansi.enabled", "true")
        .config("spark.ui.enabled", "false")
        .getOrCreate()
    )
    try:
        yield spark
    finally:
        spark.stop()


def results(spark, pooled: Path | str, work: Path | str, settings: Settings, month: str | None = None):
    """(in-memory DuckDB with `results`, report month) computed on Spark from a pool.

    pooled: what `rounds pool` wrote; work: a folder every worker can write, where models are kept as Parquet.
    """
    pooled, work = str(pooled), str(work)
    register_pool(spark, pooled)
    build(spark, LAYERS, work)
    db = duckdb.connect()
    for seed in sorted(Path(pooled, SEEDS).glob("*.parquet")):
        db.execute(f"CREATE TABLE {seed.stem} AS FROM read_parquet($path)", {"path": str(seed)})
    fetch(spark, db, "case_months")
    db.execute("CREATE TABLE quarantine AS FROM read_parquet($path)", {"path": f"{pooled}/{QUARANTINED}/*.parquet"})
    used = write_periods(db, settings, month)
    spark.createDataFrame(db.execute("FROM report_periods").df()).createOrReplaceTempView("report_periods")
    build(spark, (RESULTS_LAYER,), work)
    for name in model_files(RESULTS_LAYER):
        fetch(spark, db, name)
    assemble(db)
    return db, used


def register_pool(spark, pooled: str) -> None:
    """Views of the canonical tables, the seeds, and an empty set_aside_rows: those rows stayed at home."""
    for table in schema.TABLES.values():
        wanted = ", ".join(f"`{name}` {TYPES[kind]}" for name, kind in schema.stored_columns(table))
        path = Path(pooled) / table.name
        frame = (
            spark.read.schema(wanted).option("recursiveFileLookup", "true").parquet(str(path))
            if path.exists()
            else spark.createDataFrame([], wanted)
        )
        frame.createOrReplaceTempView(table.name)
    for seed in Path(pooled, SEEDS).glob("*.parquet"):
        spark.read.parquet(str(seed)).createOrReplaceTempView(seed.stem)
    spark.createDataFrame([], SET_ASIDE).createOrReplaceTempView("set_aside_rows")


def build(spark, layers: tuple[str, ...], work: str) -> None:
    """Runs the models of some layers in order; staging as views, the rest kept as Parquet below work."""
    models = model_files(*layers)
    for name in build_order(models):
        frame = spark.sql(models[name].read_text(encoding="utf-8"))
        if not models[name].parent.name.startswith("10_"):
            kept = f"{work}/{name}"
            frame.write.mode("overwrite").parquet(kept)
            frame = spark.read.parquet(kept)
        frame.createOrReplaceTempView(name)


def fetch(spark, db, name: str) -> None:
    """Brings one small table back into DuckDB."""
    arrow = spark.table(name).toArrow()
    db.register("fetched", arrow)
    db.execute(f"CREATE OR REPLACE TABLE {name} AS FROM fetched")
    db.unregister("fetched")
