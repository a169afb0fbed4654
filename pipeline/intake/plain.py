"""Numbers and times whose texts are plain: '37.5', '2025-03-06 08:15'. Everything else is odd, and read by rule."""

import threading

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.arrays import whole
from pipeline.intake.grid import Odd

# Full matches in DuckDB's regular expressions (RE2).
NUMBER = r"\s*[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?\s*"
TIME = r"\d{4}-\d\d-\d\d[ T]\d\d(:\d\d(:\d\d(\.\d{1,6})?)?)?"

# Length of a date with an hour, the shortest time.
LEAST = 13
NOTHING_ODD = Odd(pa.array([], pa.int64()), pa.array([], pa.string()))

# Texts are read in a table of the same name; hour-only times get their minutes.
READ = {
    "number": f"CASE WHEN regexp_full_match(text, '{NUMBER}') THEN TRY_CAST(text AS DOUBLE) END",
    "time": f"""CASE WHEN regexp_full_match(text, '{TIME}')
                THEN TRY_CAST(CASE WHEN length(text) = 13 THEN text || ':00' ELSE text END AS TIMESTAMP) END""",
}
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
    values = _all_plain(texts, kind)
    if values is not None:
        return values, NOTHING_ODD
    answer = ask(
        db,
        f"SELECT CASE WHEN isfinite(value) THEN value END AS value FROM (SELECT {READ[kind]} AS value FROM cells)",
        cells=pa.table({"text": texts}),
    )
    values = whole(answer.column("value").cast(TYPES[kind]))
    positions = pc.indices_nonzero(pc.and_(pc.is_null(values), pc.is_valid(texts)))
    return values, Odd(positions.cast(pa.int64()), texts.take(positions))


def _all_plain(texts: pa.Array, kind: str) -> pa.Array | None:
    """The values of a column all of whose cells are plain, at once; None if any is not."""
    try:
        if kind == "number":
            values = pc.cast(texts, pa.float64())
            return values if np.isfinite(values.fill_null(0).to_numpy()).all() else None
        # pyarrow takes a date alone for midnight; we do not.
        least = pc.min(pc.binary_length(texts)).as_py()
        return pc.cast(texts, pa.timestamp("us")) if least is None or least >= LEAST else None
    except pa.ArrowInvalid:
        return None


MINE = threading.local()


def split_block(texts: pa.ChunkedArray, kind: str) -> tuple[pa.Array, Odd]:
    """The same for one block of a large file, in threads: each has a database in memory of its own."""
    texts = whole(texts)
    values = _all_plain(texts, kind)
    if values is not None:
        return values, NOTHING_ODD
    if not hasattr(MINE, "db"):
        MINE.db = duckdb.connect(config={"threads": 1})
    # A block holds few different texts beside its many cells.
    coded = texts.dictionary_encode()
    values, odd = split(MINE.db, pa.chunked_array([coded.dictionary]), kind)
    strange = np.zeros(len(coded.dictionary) + 1, bool)
    strange[odd.positions.to_numpy()] = True
    codes = coded.indices.fill_null(len(coded.dictionary)).to_numpy()
    positions = pa.array(np.flatnonzero(strange[codes]), pa.int64())
    return values.take(coded.indices), Odd(positions, texts.take(positions))
