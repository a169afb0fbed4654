"""Numbers and times whose texts are plain: '37.5', '2025-03-06 08:15'. Everything else is odd, and read by rule."""

import threading

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.arrays import whole
from pipeline.intake.grid import Odd

# Full matches, in RE2, which DuckDB and pyarrow both use.
NUMBER = r"\s*[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?\s*"
TIME = r"\d{4}-\d\d-\d\d[ T]\d\d(:\d\d(:\d\d(\.\d{1,6})?)?)?"

# Length of a date with an hour, the shortest time.
LEAST = 13
NOTHING_ODD = Odd(pa.array([], pa.int64()), pa.array([], pa.string()))

# Texts are cells of a table; hour-only times get their minutes.
READ_TIME = f"""
  SELECT CASE WHEN regexp_full_match(text, '{TIME}')
         THEN TRY_CAST(CASE WHEN length(text) = 13 THEN text || ':00' ELSE text END AS TIMESTAMP) END AS value
  FROM cells"""
TYPES = {"number": pa.float64(), "time": pa.timestamp("us")}


def ask(db, sql: str, **tables: pa.Table) -> pa.Table:
    """The answer of sql over these Arrow tables, by their names."""
    for name, table in tables.items():
        db.register(name, table)
    try:
        return db.sql(sql).to_arrow_table()
    finally:
        for name in tables:
            db.unregister(name)


def split(db, texts: pa.ChunkedArray, kind: str) -> tuple[pa.Array, Odd]:
    """(values, odd cells) of a text column; kind is 'number' or 'time'. Blank cells are neither."""
    texts = whole(texts.cast(pa.string()))
    quick = quickly(texts, kind)
    if quick:
        return quick
    if kind == "number":
        plain = pc.fill_null(pc.match_substring_regex(texts, f"^(?:{NUMBER})$"), False)
        values = pc.cast(pc.if_else(plain, pc.utf8_trim_whitespace(texts), None), pa.float64())
        values = pc.if_else(pc.is_finite(values), values, None)
    else:
        values = whole(ask(db, READ_TIME, cells=pa.table({"text": texts})).column("value").cast(TYPES[kind]))
    return values, _odd(texts, pc.and_(pc.is_null(values), pc.is_valid(texts)))


def _odd(texts: pa.Array, mask: pa.Array) -> Odd:
    positions = pc.indices_nonzero(mask).cast(pa.int64())
    return Odd(positions, texts.take(positions)) if len(positions) else NOTHING_ODD


def quickly(texts: pa.Array, kind: str) -> tuple[pa.Array, Odd] | None:
    """The same by pyarrow's own casts, where all cells (but for times too short to be one) are plain; else None."""
    try:
        if kind == "number":
            values = pc.cast(texts, pa.float64())
            return (values, NOTHING_ODD) if np.isfinite(values.fill_null(0).to_numpy()).all() else None
        # pyarrow takes a date alone for midnight; we do not.
        lengths = pc.binary_length(texts)
        least = pc.min(lengths).as_py()
        if least is not None and least < LEAST:
            short = pc.fill_null(pc.less(lengths, LEAST), False)
            return pc.cast(pc.if_else(short, None, texts), pa.timestamp("us")), _odd(texts, short)
        return pc.cast(texts, pa.timestamp("us")), NOTHING_ODD
    except pa.ArrowInvalid:
        return None


MINE = threading.local()


def split_block(texts: pa.ChunkedArray, kind: str) -> tuple[pa.Array, Odd]:
    """The same for one block of a large file, in threads: each has a database in memory of its own."""
    texts = whole(texts)
    quick = quickly(texts, kind)
    if quick:
        return quick
    if not hasattr(MINE, "db"):
        MINE.db = duckdb.connect(config={"threads": 1})
    # A block holds few different texts beside its many cells.
    coded = texts.dictionary_encode()
    values, odd = split(MINE.db, pa.chunked_array([coded.dictionary]), kind)
    strange = np.zeros(len(coded.dictionary) + 1, bool)
    strange[odd.positions.to_numpy()] = True
    codes = coded.indices.fill_null(len(coded.dictionary)).to_numpy()
    return values.take(coded.indices), _odd(texts, pa.array(strange[codes]))
