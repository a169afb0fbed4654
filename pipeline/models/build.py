"""Builds the models: layer 10 as views of the canonical tables, every later one as a table."""

import time

from pipeline import schema
from pipeline.models.graph import build_order, model_files
from pipeline.models.seeds import load_seeds
from pipeline.progress import Silent
from pipeline.settings import Settings

CASE_LAYERS = ("20_cases", "30_measures")

# Rows that a check of severity set_aside named; staging leaves them out.
SET_ASIDE = """
CREATE TABLE IF NOT EXISTS set_aside_rows
(table_name VARCHAR, source_file BIGINT, source_row BIGINT, rule_id VARCHAR)
"""


class ModelFault(Exception):
    """One of our own SQL files failed; says which."""


def prepare(db, settings: Settings) -> None:
    """Canonical tables that no file has filled yet, seed tables, and the staging views the checks may read."""
    for table in schema.TABLES.values():
        db.execute(schema.create_table(table))
    db.execute(SET_ASIDE)
    load_seeds(db, settings)
    build_layer(db, ("10_staging",))


def build(db, settings: Settings, progress=None) -> dict[str, float]:
    """Writes every model up to one row a case. Returns seconds a model."""
    return build_layer(db, CASE_LAYERS, progress)


def build_layer(db, layers: tuple[str, ...], progress=None) -> dict[str, float]:
    """Builds the models of some layers, each after those it reads. Returns seconds a model."""
    progress = progress or Silent()
    models = model_files(*layers)
    seconds = {}
    for number, name in enumerate(build_order(models), start=1):
        progress.step(f"computing {name}", number, len(models))
        kind = "VIEW" if models[name].parent.name.startswith("10_") else "TABLE"
        began = time.perf_counter()
        try:
            db.execute(f"CREATE OR REPLACE {kind} {name} AS {models[name].read_text(encoding='utf-8')}")
        except Exception as cause:
            raise ModelFault(f"{models[name].name}: {cause}") from cause
        seconds[name] = time.perf_counter() - began
    return seconds
