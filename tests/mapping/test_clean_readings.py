"""What is found clean by whole columns reads as the careful way reads it, cell by cell."""

import csv
import io

import duckdb
import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import RefusedFile
from pipeline.intake import text_files, word_cells
from pipeline.intake.cells import type_grid
from pipeline.intake.mapping import clean_readings, nights, plain_files
from pipeline.intake.mapping.clinic_file import Mapping

IDS = [
    "A25-6711",
    "A1",
    "12",
    "A-7",
    " A1",
    "total",
    "Page 1 of 2",
    "case_id",
    "1.2E+08",
    "6-Mar",
    "\u0391\u0031",
    "a 1",
]
TIMES = ["2025-03-06 08:20", "2025-03-06 08:25:30", "2025-10-26 02:30", "2025-02-30 08:00", "2025-03-06T08:25", "08:20",
         "2025-03-06", "6.3.2025 8:20", "soon", "2025-03-06 00:00:00", "1985-03-06 08:00", ""]  # fmt: skip
VALUES = {
    "heart_rate": ["100", "98.5", "999", "-1", "0", "1e2", " 90", "98,5", "fast", "", "+3", "5."],
    "temperature": ["37.9", "38", "0", "45.5", "98.6", "46.5", "37,5"],
    "spo2": ["98", "0.98", "1", "0", "100", "97%"],
    "etco2": ["38", "5.1", "4.8", "40", "0", "38.00"],
    "fico2": ["0", "1.5", "-1"],
    "pulse": ["80"],
}
CLEAN = {"heart_rate": ["100", "61.5"], "temperature": ["37.9", "38"], "etco2": ["38", "41"], "fico2": ["0"]}


def reading(ids, times, values):
    of_parameter = {name: st.sampled_from(cells) for name, cells in values.items()}
    parameter = st.sampled_from(list(values)).flatmap(lambda name: st.tuples(st.just(name), of_parameter[name]))
    return st.tuples(st.sampled_from(ids), st.sampled_from(times), parameter).map(lambda row: [*row[:2], *row[2]])


def read(path, zone="Europe/Berlin"):
    """All that reading and typing make of a file, or the sentence it is refused with."""
    try:
        table, grid = text_files.read(path)
        grid = plain_files.tidied(table, grid, Mapping())
        with duckdb.connect() as db:
            typed = type_grid(db, table, grid, zone, None)
    except RefusedFile as fault:
        return str(fault)
    every = pa.array(range(len(grid.rows)), pa.int64())
    return (
        {name: values.to_pylist() for name, values in typed.values.items()},
        {name: values.to_pylist() for name, values in typed.clocks.items()},
        [
            (one.rule, one.kind, one.column, one.positions.tolist(), one.texts and one.texts.to_pylist())
            for one in typed.findings
        ],
        grid.texts(every).to_pylist(),
        (grid.rows.to_pylist(), grid.set_aside, grid.rejected, grid.notes, grid.facts, grid.faults, grid.mapping),
    )


def written(path, header, rows):
    text = io.StringIO()
    csv.writer(text).writerows([header, *rows])
    path.write_text(text.getvalue(), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("clean")


def one_way(path, module, name, value):
    """read(path) with module.name put aside."""
    before = getattr(module, name)
    setattr(module, name, value)
    try:
        return read(path)
    finally:
        setattr(module, name, before)


@settings(max_examples=60, deadline=None)
@given(
    clean=st.lists(reading(IDS[:2], TIMES[:2], CLEAN), max_size=12),
    odd=st.lists(reading(IDS, TIMES, VALUES), max_size=2),
    ids=st.lists(st.sampled_from(IDS), max_size=2),
)
def test_readings_read_as_the_careful_way_reads_them(folder, clean, odd, ids):
    rows = [*clean, *odd, *([one, *clean[0][1:]] for one in ids if clean)]
    path = written(folder / "vitals.csv", ["case_id", "taken_at", "parameter", "value"], rows)
    assert read(path) == one_way(path, clean_readings, "typed", lambda grid, mapping: None)


def test_a_file_of_clean_readings_is_found_clean(folder):
    rows = [["A1", f"2025-03-06 08:{minute:02}", "heart_rate", "88"] for minute in range(10)]
    path = written(folder / "vitals.csv", ["case_id", "taken_at", "parameter", "value"], rows)
    assert clean_readings.typed(text_files.read(path)[1], Mapping())
    path = written(folder / "vitals.csv", ["case_id", "taken_at", "parameter", "value"], [*rows, [*rows[0][:3], "12O"]])
    assert not clean_readings.typed(text_files.read(path)[1], Mapping())


STAGES = ["2025-03-06 08:15", "2025-03-06 08:20:00", "2025-03-06 23:50", "2025-03-06 00:10", "2025-03-06 00:00",
          "2025-03-07 00:05:00", "2025-03-06T09:00", "2025-03-06 09:00+01:00", "2025-02-30 08:00", "09:00",
          ""]  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(rows=st.lists(st.tuples(*[st.sampled_from(STAGES)] * 3), max_size=6))
def test_stages_out_of_order_are_found_by_whole_columns(folder, rows):
    header = ["case_id", "induction_at", "intubation_at", "extubation_at"]
    path = written(folder / "cases.csv", header, [[f"A{n}", *row] for n, row in enumerate(rows)])
    assert read(path) == one_way(path, nights, "_out_of_step", lambda work, names: np.arange(len(work)))


@settings(max_examples=40, deadline=None)
@given(ids=st.lists(st.sampled_from([*IDS, "A25-6711-2", "ABCDEFGHI1", "A1E+5", "na1", "nd", "A_1"]), max_size=6))
def test_plain_ids_need_no_second_look(folder, ids):
    path = written(folder / "cases.csv", ["case_id", "species"], [[one, "dog"] for one in ids])
    assert read(path) == one_way(path, word_cells, "PLAIN_ID", "^nothing is plain$")
