"""Parquet as typed, JSON lines as exact text."""

import datetime as dt
import gzip
import json

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import zstandard
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import RefusedFile
from pipeline.intake import readers
from pipeline.intake.mapping.clinic_file import Mapping
from pipeline.intake.readers import columnar


@pytest.fixture
def grid(tmp_path):
    def made(**columns):
        pq.write_table(pa.table(columns), tmp_path / "cases.parquet")
        return columnar.parquet(tmp_path / "cases.parquet")

    return made


def test_numbers_times_and_words_of_parquet(grid):
    made = grid(
        case_id=pa.array([7, 123456789012345678], pa.int64()),
        weight_kg=pa.array([4.2, float("nan")], pa.float64()),
        induction_at=pa.array([dt.datetime(2026, 3, 1, 8, 5), None], pa.timestamp("ns")),
        extubation_at=pa.array([dt.datetime(2026, 3, 1, 8, 5)] * 2, pa.timestamp("us", "UTC")),
        emergency=pa.array([True, None]),
        techniques=pa.array([["epidural", "arterial_line"], []], pa.list_(pa.string())),
        species=pa.array(["dog", "dog"]).dictionary_encode(),
        nested=pa.array([{"a": 1}, {"a": 2}]),
    )
    assert made.cells.drop_columns(["induction_at"]).to_pylist() == [
        {"case_id": "7", "weight_kg": 4.2, "extubation_at": "2026-03-01 08:05:00+00:00", "emergency": "true",
         "techniques": "epidural;arterial_line", "species": "dog"},
        {"case_id": "123456789012345678", "weight_kg": None, "extubation_at": "2026-03-01 08:05:00+00:00",
         "emergency": None, "techniques": None, "species": "dog"},
    ]  # fmt: skip
    assert made.cells.column("induction_at").type == pa.timestamp("us")
    assert [note.rule for note in made.notes] == ["nested_column"]


def test_a_cut_parquet_file_is_refused(tmp_path):
    (tmp_path / "cases.parquet").write_bytes(b"PAR1 and no more")
    with pytest.raises(RefusedFile, match="cannot be read"):
        columnar.parquet(tmp_path / "cases.parquet")


LINES = (
    '{"case_id": "007", "weight_kg": 4.20, "species": null}\n\n{"case_id": "A2", "weight_kg": 1e1, "breed": "x"}\n{"cut'
)


@pytest.mark.parametrize("pack", [bytes, gzip.compress, zstandard.compress])
def test_json_lines_keep_their_text_and_lose_no_line(tmp_path, pack):
    ending = {bytes: ".ndjson", gzip.compress: ".ndjson.gz", zstandard.compress: ".ndjson.zst"}[pack]
    (tmp_path / f"cases{ending}").write_bytes(pack(LINES.encode()))
    ((table, made),) = readers.read(tmp_path / f"cases{ending}", Mapping())
    assert table == "cases"
    assert made.cells.to_pylist() == [
        {"case_id": "007", "weight_kg": "4.20", "species": None, "breed": None},
        {"case_id": "A2", "weight_kg": "1e1", "species": None, "breed": "x"},
    ]
    assert made.rows.to_pylist() == [1, 3]
    assert [line for line, *_ in made.rejected] == [4]


def test_one_list_of_objects(tmp_path):
    (tmp_path / "cases.json").write_text('[{"case_id": "A1", "techniques": ["a", "b"]}, 3]', encoding="utf-8")
    ((_, made),) = readers.read(tmp_path / "cases.json", Mapping())
    assert made.cells.column("techniques").to_pylist() == ["a;b"]
    assert len(made.rejected) == 1


def test_json_that_holds_no_object_is_refused(tmp_path):
    (tmp_path / "cases.json").write_text("[\n1,\n2\n", encoding="utf-8")
    with pytest.raises(RefusedFile, match="no line that is a JSON object"):
        readers.read(tmp_path / "cases.json", Mapping())


@given(st.lists(st.dictionaries(st.sampled_from("abc"), st.text(min_size=1)), min_size=1))
def test_any_texts_in_json_lines_come_back(tmp_path_factory, objects):
    path = tmp_path_factory.mktemp("lines") / "x.ndjson"
    path.write_text("\n".join(json.dumps(one) for one in objects) + "\n", encoding="utf-8")
    found, odd = columnar.json_lines(path)
    assert [one for _, one in found] == objects and odd == []
