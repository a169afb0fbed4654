"""Numbers and times whose texts are plain: '37.5', '2025-03-06 08:15'. Everything else is odd, and read by rule."""

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

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
    answer = ask(
        db,
        f"SELECT CASE WHEN isfinite(value) THEN value END AS value FROM (SELECT {READ[kind]} AS value FROM cells)",
        cells=pa.table({"text": texts.cast(pa.string())}),
    )
    values = answer.column("value").combine_chunks()
    values = values.cast(TYPES[kind]) if isinstance(values, pa.Array) else pa.concat_arrays(values.chunks)
    whole = texts.cast(pa.string()).combine_chunks()
    positions = pc.indices_nonzero(pc.and_(pc.is_null(values), pc.is_valid(whole)))
    return values, Odd(positions.cast(pa.int64()), whole.take(positions))


def split_block(texts: pa.ChunkedArray, kind: str) -> tuple[pa.ChunkedArray, Odd]:
    """The same for one block of a large file: cast at once where every cell is plain, else as split does.

    Safe to run in threads: it opens its own database in memory when it needs one.
    """
    try:
        if kind == "number":
            values = pc.cast(texts, pa.float64())
            plain = bool(np.isfinite(values.fill_null(0).to_numpy()).all())
        else:
            # pyarrow takes a date alone for midnight; we do not.
            plain = (pc.min(pc.binary_length(texts)).as_py() or LEAST) >= LEAST
            values = pc.cast(texts, pa.timestamp("us")) if plain else None
    except pa.ArrowInvalid:
        plain = False
    if plain:
        return values, NOTHING_ODD
    with duckdb.connect() as db:
        values, odd = split(db, texts, kind)
    return pa.chunked_array([values]), odd
