"""Keys that stand twice in one file are found, however the rows are ordered and wherever a part of them ends."""

from collections import Counter

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake import arrays, keys


@pytest.fixture(scope="module", autouse=True)
def short_parts():
    before = arrays.PART, keys.OVERLAP
    arrays.PART, keys.OVERLAP = 8, 3
    yield
    arrays.PART, keys.OVERLAP = before


ROWS = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 5), st.integers(0, 4)), max_size=60)


@settings(max_examples=200, deadline=None)
@given(rows=ROWS, order=st.sampled_from(["as given", "by the first two", "by all", "once each"]))
def test_repeated_keys(rows, order):
    if order == "once each":
        rows = list(dict.fromkeys(rows))
    if order != "as given":
        rows = sorted(rows, key=lambda row: row if order == "by all" else row[:2])
    names = ("case_id", "taken_at", "parameter")
    cells = [[f"A{case}", time * 60, f"p{parameter}"] for case, time, parameter in rows]
    kinds = (pa.string(), pa.int64(), pa.string())
    columns = [pa.array([row[n] for row in cells], kind) for n, kind in enumerate(kinds)]
    table = pa.table(columns, names=list(names))
    counts = Counter(rows)
    assert keys.repeated(table, list(names)).tolist() == [n for n, row in enumerate(rows) if counts[row] > 1]


def test_readings_of_one_time_in_any_order_are_seen_without_sorting():
    rows = [(case, time, (time * 3 + n) % 4) for case in range(3) for time in range(5) for n in range(3)]
    table = pa.table([pa.array(column) for column in zip(*rows, strict=True)], names=["a", "b", "c"])
    assert keys._once_a_run(keys._codes_of(table, ["a", "b", "c"]), len(rows))
    table = pa.concat_tables([table.slice(0, 20), table.slice(19)])
    assert not keys._once_a_run(keys._codes_of(table, ["a", "b", "c"]), len(rows) + 1)
