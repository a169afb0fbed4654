"""Parquet files as they are typed, and JSON lines as exact text.

Parquet: numbers stay float64 and times without a zone stay timestamps; a time with a zone becomes text with its
offset, whole numbers text (an id loses nothing), booleans 'true' and 'false', lists words joined by ';'. Nested
columns are left out and named. JSON lines: one object a line, or one list of objects; numbers keep their text.
"""

import json
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.errors import RefusedFile
from pipeline.intake.encodings import decode
from pipeline.intake.grid import Grid, Note

NUMBERS = {column.name for table in schema.TABLES.values() for column in table.columns if column.kind == "number"}


def parquet(path: Path) -> Grid:
    """The one table of a Parquet file; rows are numbered from 1. Raises RefusedFile."""
    import pyarrow.parquet as pq

    try:
        table = pq.read_table(path)
    except (pa.ArrowException, OSError) as cause:
        raise RefusedFile(
            where=path.name, found="a Parquet file that cannot be read", wanted="a whole one", fix="export it again"
        ) from cause
    columns, left_out = {}, []
    for name in table.column_names:
        made = _column(name, table.column(name))
        if made is None:
            left_out.append(name)
        else:
            columns[name] = made
    notes = []
    if left_out:
        why = f"Columns with parts inside them were not read: {', '.join(left_out)}."
        notes.append(Note("nested_column", "N", "", len(left_out), why))
    rows = pa.array(range(1, table.num_rows + 1), pa.int64())
    return Grid(path, "", pa.table(columns), rows, notes=notes, facts={"encoding": "Parquet"})


def _column(name: str, column: pa.ChunkedArray) -> pa.ChunkedArray | None:
    """A column as text, float64 or timestamp[us]; None if it is nested."""
    kind = column.type
    if pa.types.is_dictionary(kind):
        return _column(name, column.cast(kind.value_type))
    if pa.types.is_floating(kind):
        column = column.cast(pa.float64())
        return pc.if_else(pc.is_nan(column), pa.scalar(None, pa.float64()), column)
    if pa.types.is_integer(kind) or pa.types.is_decimal(kind):
        return column.cast(pa.float64() if name in NUMBERS or name in schema.PARAMETERS else pa.string())
    if pa.types.is_timestamp(kind):
        if kind.tz:
            return pc.strftime(pc.cast(column, pa.timestamp("s", "UTC"), safe=False), "%Y-%m-%d %H:%M:%S+00:00")
        return column.cast(pa.timestamp("us"), safe=False)
    if pa.types.is_list(kind) or pa.types.is_large_list(kind):
        if not pa.types.is_string(kind.value_type):
            return None
        words = [";".join(filter(None, cell)) if cell else None for cell in column.to_pylist()]
        return pa.chunked_array([words], pa.string())
    if pa.types.is_nested(kind) or pa.types.is_binary(kind):
        return None
    return column.cast(pa.string())


def json_lines(path: Path) -> tuple[list[tuple[int, dict]], list[tuple[int, str, str]]]:
    """((line, object), ...) and ((line, text, why), ...) of lines that are no objects, numbers as their own text.

    A file that is one list of objects counts its objects from 1. Raises RefusedFile where nothing is an object.
    """
    decoded = decode(path)
    decoded.stream.seek(0)
    text = decoded.stream.read().decode("utf-8", "replace").removeprefix("\ufeff")
    whole = _loaded(text) if text.count("\n") < 2 or text.lstrip()[:2] in ("[\n", "[{", "{\n", "[ ", "{\r") else None
    if isinstance(whole, dict):
        return [(1, whole)], []
    if isinstance(whole, list):
        found = [(number, one) for number, one in enumerate(whole, 1) if isinstance(one, dict)]
        odd = [(n, json.dumps(one), "not an object") for n, one in enumerate(whole, 1) if not isinstance(one, dict)]
        return found, odd
    found, odd = [], []
    for number, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            continue
        one = _loaded(line)
        if isinstance(one, dict):
            found.append((number, one))
        else:
            odd.append((number, line, "not a whole JSON object"))
    if not found:
        raise RefusedFile(
            where=path.name,
            found="no line that is a JSON object",
            wanted='one object a line, such as {"case_id": "A12", "weight_kg": 4.2}',
            fix="export it as JSON lines (NDJSON), CSV or XLSX",
        )
    return found, odd


def _loaded(text: str):
    try:
        return json.loads(text, parse_float=str, parse_int=str, parse_constant=lambda _: None)
    except (ValueError, RecursionError):
        return None


def records(path: Path, found: list[tuple[int, dict]], odd: list[tuple[int, str, str]]) -> Grid:
    """Plain JSON objects as one table: a column a key, values as text, lists joined by ';'."""
    names = dict.fromkeys(key for _, one in found for key in one)
    columns = {name: pa.array([_text(one.get(name)) for _, one in found], pa.string()) for name in names}
    rows = pa.array([number for number, _ in found], pa.int64())
    return Grid(path, "", pa.table(columns), rows, rejected=odd, facts={"encoding": "JSON lines"})


def _text(value) -> str | None:
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list) and all(isinstance(one, str) for one in value):
        return ";".join(value) or None
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
