"""Builds the models: layer 10 as views of the canonical tables, later ones as their header says.

`-- Built as a view`; `by case`, `by month`, `by year`, `by period`: a table of which only what changed is computed
again (pipeline/models/kept.py); `before cases`: a table, built whole before these; no such line: built whole.
"""

import re
import time
from concurrent.futures import Future

import duckdb

from pipeline import database, schema
from pipeline.lanes import lanes
from pipeline.models import kept
from pipeline.models.graph import build_order, model_files, tables_read
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
    with database.at_once(db):
        for table in schema.TABLES.values():
            db.execute(schema.create_table(table))
        db.execute(SET_ASIDE)
        load_seeds(db, settings)
        build_layer(db, ("10_staging",))


def build(db, settings: Settings, progress=None) -> dict[str, float]:
    """Writes every model up to one row a case, or what changed of them. Returns seconds a model."""
    models = models_of(*CASE_LAYERS)
    seconds = build_models(db, kept.built(models, "before cases"), progress)
    changes = kept.changes(db, settings, models)
    if changes.everything:
        kept.forget(db)
        seconds = build_beside(db, models, progress)
        kept.all_stale(db, models)
    else:
        if changes.cases:
            with kept.only_changed_cases(db, models) as part:
                seconds |= build_models(db, part, progress, "TEMP ")
                kept.merge(db, part, "case_id", "changed_cases")
        whole = {name: model for name, model in models.items() if model.built in ("", "as a view")}
        seconds |= build_models(db, whole, progress)
        kept.stale_from_rows(db, models)
        with kept.only_stale_months(db, models) as part:
            seconds |= build_models(db, part, progress, "TEMP ")
            kept.merge(db, part, "month_no", "stale_months")
        with kept.only_stale_years(db, models) as part:
            seconds |= build_models(db, part, progress, "TEMP ")
            kept.merge(db, part, "year_no", "stale_years")
    kept.remember(db, settings, models)
    return seconds


def build_layer(db, layers: tuple[str, ...], progress=None) -> dict[str, float]:
    """Builds the models of some layers whole, each after those it reads. Returns seconds a model."""
    return build_models(db, models_of(*layers), progress)


def models_of(*layers: str) -> dict[str, "Model"]:
    """The models of some layers by name, each after those it reads."""
    files = model_files(*layers)
    return {name: Model(files[name]) for name in build_order(files)}


class Model:
    """One SQL file. built: what its header says of how it is built, '' for whole."""

    def __init__(self, path):
        self.path = path
        self.sql = path.read_text(encoding="utf-8")
        said = re.search(r"^-- Built +(.+)$", self.sql, re.MULTILINE)
        staging = path.parent.name.startswith("10_")
        self.built = said.group(1) if said else "as a view" if staging else ""


def build_models(db, models: dict[str, Model], progress=None, temp: str = "") -> dict[str, float]:
    """Builds models in the order given. temp: 'TEMP ' puts them in front of those of the same name."""
    progress = progress or Silent()
    stands = _stands(db)
    seconds = {}
    for number, (name, model) in enumerate(models.items(), start=1):
        progress.step(f"computing {name}", number, len(models))
        seconds[name] = _build(db, name, model, stands, temp)
    return seconds


def build_beside(db, models: dict[str, Model], progress=None) -> dict[str, float]:
    """The same, two models at a time, each after those it reads; one after the other where the memory that DuckDB may
    use does not hold two."""
    progress = progress or Silent()
    try:
        return _two_at_a_time(db, models, progress)
    except ModelFault as fault:
        if not isinstance(fault.__cause__, duckdb.OutOfMemoryException):
            raise
        return build_models(db, models, progress)


def _two_at_a_time(db, models: dict[str, Model], progress) -> dict[str, float]:
    stands = _stands(db)
    with lanes(db, "for_models") as side:
        begun: dict[str, Future] = {}
        for name, model in models.items():
            before = [begun[other] for other in sorted(tables_read(model.sql) & begun.keys())]
            begun[name] = side.submit(_build_after, before, name, model, stands)
        seconds = {}
        for number, (name, built) in enumerate(begun.items(), start=1):
            progress.step(f"computing {name}", number, len(models))
            seconds[name] = built.result()
    return seconds


def _build_after(db, before: list[Future], name: str, model: Model, stands: dict[str, str]) -> float:
    for built in before:
        built.result()
    return _build(db, name, model, stands)


def _build(db, name: str, model: Model, stands: dict[str, str], temp: str = "") -> float:
    """Builds one model; seconds it took. stands: kind by name of what is there."""
    kind = "VIEW" if model.built == "as a view" else "TABLE"
    began = time.perf_counter()
    try:
        if not temp and name in stands and (stands[name] == "VIEW") != (kind == "VIEW"):
            db.execute(f"DROP {'VIEW' if kind == 'TABLE' else 'TABLE'} {name}")
        db.execute(f"CREATE OR REPLACE {temp}{kind} {name} AS {model.sql}")
    except Exception as cause:
        raise ModelFault(f"{model.path.name}: {cause}") from cause
    return time.perf_counter() - began


def _stands(db) -> dict[str, str]:
    return dict(db.execute("SELECT table_name, table_type FROM information_schema.tables").fetchall())
