"""Long columns in parts, on a few threads: a part fits the processor's cache, and numpy lets go of the interpreter."""

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pyarrow as pa

WORKERS = 2
PART = 1 << 17


def parts(length: int) -> list[slice]:
    """Slices that cover so many rows, in order; at least one."""
    return [slice(start, min(start + PART, length)) for start in range(0, max(length, 1), PART)]


def in_parts(work: Callable[[slice], object], length: int) -> list:
    """work(slice) of every part, results in order."""
    slices = parts(length)
    if len(slices) == 1:
        return [work(slices[0])]
    with ThreadPoolExecutor(WORKERS) as pool:
        return list(pool.map(work, slices))


def in_order(work: Callable, inputs: Iterable) -> Iterator:
    """work(input) for each input on a few threads, results in the inputs' order, few in memory at once."""
    from collections import deque

    with ThreadPoolExecutor(WORKERS) as pool:
        waiting = deque()
        for item in inputs:
            waiting.append(pool.submit(work, item))
            if len(waiting) > 2 * WORKERS:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def whole(column: pa.ChunkedArray | pa.Array) -> pa.Array:
    """The column as one array."""
    if isinstance(column, pa.Array):
        return column
    if column.num_chunks == 1:
        return column.chunk(0)
    return pa.concat_arrays(column.chunks) if column.num_chunks else pa.array([], column.type)


def integers(values: pa.Array) -> tuple[np.ndarray, np.ndarray | None]:
    """(numbers, known) of an integer or time column: numbers without a copy, known None where all are."""
    if pa.types.is_timestamp(values.type):
        values = values.view(pa.int64())
    if not values.null_count:
        return values.to_numpy(), None
    known = values.is_valid().to_numpy(zero_copy_only=False)
    return values.fill_null(0).to_numpy(), known


def encoded(texts: pa.ChunkedArray | pa.Array) -> tuple[np.ndarray, pa.Array]:
    """(code of each cell, distinct texts); a NULL cell has the code one past the last text."""
    if isinstance(texts, pa.Array):
        texts = pa.chunked_array([texts])
    if not pa.types.is_dictionary(texts.type):
        texts = texts.cast(pa.string()).dictionary_encode()
    if not texts.num_chunks:
        return np.array([], np.int32), pa.array([], pa.string())
    first = texts.chunk(0).dictionary
    if all(chunk.dictionary is first or len(chunk.dictionary) == 0 for chunk in texts.chunks):
        words = pa.chunked_array([first.cast(pa.string())]).dictionary_encode()
    else:
        words = pa.chunked_array([chunk.dictionary.cast(pa.string()) for chunk in texts.chunks]).dictionary_encode()
    words = words.unify_dictionaries()
    distinct = words.chunk(0).dictionary if words.num_chunks else pa.array([], pa.string())
    codes = np.empty(len(texts), np.int32)
    starts = np.cumsum([0, *(len(chunk) for chunk in texts.chunks)])

    def fill(number: int) -> None:
        chunk = texts.chunk(number)
        words_of = (
            np.array([], np.int32)
            if not words.num_chunks
            else words.chunk(number if words.num_chunks > 1 else 0).indices.to_numpy()
        )
        mapped = np.append(words_of, len(distinct)).astype(np.int32)
        indices = chunk.indices.fill_null(len(words_of)) if chunk.null_count else chunk.indices
        np.take(mapped, indices.to_numpy(zero_copy_only=False), out=codes[starts[number] : starts[number + 1]])

    if texts.num_chunks == 1:
        fill(0)
    else:
        with ThreadPoolExecutor(WORKERS) as pool:
            list(pool.map(fill, range(texts.num_chunks)))
    return codes, distinct
