"""The models on Apache Spark, over pooled Parquet: the text of sql/models/ as it stands.

Spark computes layers 10 to 40; what comes back is counts, and Python makes `results` of them as it does at home.
A real cluster needs a folder that every worker can read and write: a network share. Settings of Spark are made where
Spark reads them, in spark-defaults.conf; nothing here depends on them.
"""

from contextlib import contextmanager
from pathlib import Path

from pipeline import schema
from pipeline.database import tables
from pipeline.engines.one_machine import register_models
from pipeline.engines.one_machine import register_pool as register_at_home
from pipeline.engines.pool import STATED
from pipeline.errors import SettingsFault
from pipeline.measures.compute import RESULTS_LAYER, assemble
from pipeline.measures.periods import write_periods
from pipeline.models.graph import build_order, model_files
from pipeline.settings import Settings

LAYERS = ("10_staging", "20_cases", "30_measures")

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
    builder = SparkSession.builder.appName("anesthesia-rounds")
    if master.startswith("sc://"):
        builder = builder.remote(master)
    else:
        quiet = {"spark.ui.enabled": "false", "spark.ui.showConsoleProgress": "false"}
        builder = builder.master(master).config(map=quiet)
    spark = builder.getOrCreate()
    spark.conf.set("spark.sql.session.timeZone", "UTC")
    spark.conf.set("spark.sql.ansi.enabled", "true")
    try:
        yield spark
    finally:
        spark.stop()


def results(spark, db, pooled: Path, work: Path, settings: Settings, month: str | None = None) -> str | None:
    """Writes `results` into a new DuckDB, with the counts behind it and views of the models; returns the report month.

    pooled: what `rounds pool` wrote; work: a folder every worker can write, where models are kept as Parquet.
    """
    register_at_home(db, pooled, settings)
    register_pool(spark, db, pooled)
    build(spark, LAYERS, work)
    register_models(db, work, [name for name in model_files(*LAYERS) if not name.startswith("stg_")])
    used = write_periods(db, settings, month)
    send(spark, db, "report_periods")
    build(spark, (RESULTS_LAYER,), work)
    for name in model_files(RESULTS_LAYER):
        fetch(spark, db, name)
    assemble(db)
    return used


def register_pool(spark, db, pooled: Path) -> None:
    """Views of the canonical tables; the small tables beside them as DuckDB has them."""
    for table in schema.TABLES.values():
        wanted = ", ".join(f"`{name}` {TYPES[kind]}" for name, kind in schema.stored_columns(table))
        path = pooled / table.name
        frame = (
            spark.read.schema(wanted).option("recursiveFileLookup", "true").parquet(str(path))
            if path.exists()
            else spark.createDataFrame([], wanted)
        )
        frame.createOrReplaceTempView(table.name)
    seeds = (name for name in tables(db) if name.startswith("seed_"))
    for name in {*seeds, *STATED, "set_aside_rows"}:
        send(spark, db, name)


def build(spark, layers: tuple[str, ...], work: Path) -> None:
    """Runs the models of some layers in order; staging as views, the rest kept as Parquet below work."""
    models = model_files(*layers)
    for name in build_order(models):
        frame = spark.sql(models[name].read_text(encoding="utf-8"))
        if not models[name].parent.name.startswith("10_"):
            kept = str(work / name)
            frame.write.mode("overwrite").parquet(kept)
            frame = spark.read.parquet(kept)
        frame.createOrReplaceTempView(name)


def send(spark, db, name: str) -> None:
    """Gives Spark one small table of DuckDB's."""
    found = db.sql(f"FROM {name}")
    if len(found):
        frame = spark.createDataFrame(found.to_arrow_table())
    else:  # Spark Connect reads no types from an empty table
        columns = zip(found.columns, map(str, found.types), strict=True)
        frame = spark.createDataFrame([], ", ".join(f"`{column}` {TYPES[kind]}" for column, kind in columns))
    frame.createOrReplaceTempView(name)


def fetch(spark, db, name: str) -> None:
    """Brings one small table back into DuckDB."""
    arrow = spark.table(name).toArrow()
    db.register("fetched", arrow)
    db.execute(f"CREATE OR REPLACE TABLE {name} AS FROM fetched")
    db.unregister("fetched")
