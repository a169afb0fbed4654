"""One invented clinic exported four other ways gives, through its mapping, the same tables and results row for row."""

import shutil

import exporters
import fhir_exporter
import pytest

from pipeline import intake, measures, models, schema, settings
from pipeline.database import connect
from pipeline.intake.mapping.drafter import draft_into
from pipeline.simulate import write_clinic

ZONE = "Europe/Berlin"
WAYS = {
    "german": exporters.german_csv,
    "workbook": exporters.workbook,
    "parquet": exporters.parquet,
    "fhir": lambda folder, out: fhir_exporter.fhir_ndjson(folder, out, ZONE),
}


def tables(clinic, chosen) -> dict[str, list[tuple]]:
    """Every stored row of a clinic's exports, provenance left aside, in one order; and every row of its results."""
    with connect(":memory:") as db:
        receipt = intake.load(db, chosen, clinic)
        assert not receipt.refused, receipt.refused
        found = {}
        for table in schema.TABLES.values():
            names = [name for name, _ in schema.stored_columns(table) if not name.startswith("source_")]
            listed = ", ".join(f'"{name}"' for name in names)
            found[table.name] = db.execute(f"SELECT {listed} FROM {table.name} ORDER BY ALL").fetchall()
        models.prepare(db, chosen)
        models.build(db, chosen)
        measures.compute(db, chosen)
        found["results"] = db.execute("SELECT * FROM results ORDER BY ALL").fetchall()
        return found


@pytest.fixture(scope="module")
def canonical(tmp_path_factory):
    """(clinic folder, its settings, its tables), without planted faults: those are the matter of test_faults."""
    folder = tmp_path_factory.mktemp("canonical")
    write_clinic(folder, seed=40, months=2, cases=38, partial_days=3, vitals="mixed", faults=False)
    chosen = settings.read(folder / "clinic.toml")
    return folder, chosen, tables(folder, chosen)


@pytest.mark.parametrize("way", WAYS)
def test_same_tables(way, canonical, tmp_path):
    folder, chosen, want = canonical
    assert len(want["cases"]) == 40 and len(want["vitals"]) > 10_000 and len(want["results"]) > 1_000
    shutil.copy(folder / "patient_key", tmp_path)
    WAYS[way](folder / "exports", tmp_path / "exports")
    files = sorted((tmp_path / "exports").iterdir())
    if way == "fhir":
        (tmp_path / "mapping.toml").write_text(fhir_exporter.fhir_mapping(), encoding="utf-8")
    else:
        done = draft_into(tmp_path / "mapping.toml", files)
        assert [one.questions for one in done if one.questions] == []
    got = tables(tmp_path, chosen)
    for table, rows in want.items():
        assert got[table] == rows, table
