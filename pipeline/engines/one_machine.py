"""The models on DuckDB, over a pool: views of the Parquet that `rounds pool` wrote, then as at a clinic."""

from pathlib import Path

from pipeline import measures, models, schema
from pipeline.engines.pool import QUARANTINED, STATED
from pipeline.errors import SettingsFault
from pipeline.models.build import SET_ASIDE
from pipeline.settings import Settings


def results(db, pooled: Path, settings: Settings, month: str | None = None, progress=None) -> str | None:
    """Writes every model of the cases and `results` into db; returns the report month."""
    register_pool(db, pooled, settings)
    models.build(db, settings, progress)
    return measures.compute(db, settings, month, progress)


def register_pool(db, pooled: Path, settings: Settings) -> None:
    """Views of the canonical tables and the staging models; the group's seeds and what its sites state as tables.

    Raises SettingsFault where pooled is no pool.
    """
    if not (pooled / QUARANTINED).is_dir():
        raise SettingsFault(
            where="--pool",
            found=f"no pool in {pooled.name}",
            wanted="the folder that `rounds pool` wrote",
            fix="run `rounds pool DIR` at every site first, then give that DIR",
        )
    for table in schema.TABLES.values():
        names = ", ".join(f'"{name}"' for name, _ in schema.stored_columns(table))
        if any((pooled / table.name).rglob("*.parquet")):
            _read(db, "VIEW", table.name, pooled / table.name / "*" / "*" / "*.parquet", names)
        else:
            db.execute(schema.create_table(table))
    models.load_seeds(db, settings)
    for name in STATED:
        _read(db, "TABLE", name, pooled / name / "*.parquet")
    _read(db, "TABLE", "quarantine", pooled / QUARANTINED / "*.parquet")
    db.execute(SET_ASIDE)
    models.build_layer(db, ("10_staging",))


def register_models(db, work: Path, names) -> None:
    """Views of models that another engine kept as Parquet, one folder a model."""
    for name in names:
        _read(db, "VIEW", name, work / name / "*.parquet")


def _read(db, kind: str, name: str, path: Path, columns: str = "*") -> None:
    files = str(path.absolute()).replace("'", "''")
    db.execute(
        f"CREATE OR REPLACE {kind} {name} AS SELECT {columns} FROM read_parquet('{files}', hive_partitioning = false)"
    )
