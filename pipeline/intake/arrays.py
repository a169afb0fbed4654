"""Long columns in parts, on a few threads: a part fits the processor's cache, and numpy lets go of the interpreter."""

from collections import deque
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
    with ThreadPoolExecutor(WORKERS) as pool:
        waiting = deque()
        for item in inputs:
            waiting.append(pool.submit(work, item))
            if len(waiting) > 2 * WORKERS:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def empty(length: int, kind: type) -> np.ndarray:
    """Room for so many numbers, from the system's allocator. numpy and Arrow would ask for huge pages, which a busy
    machine must first gather: measured, that took half as long again as reading the file."""
    room = pa.allocate_buffer(length * np.dtype(kind).itemsize, memory_pool=pa.system_memory_pool())
    return np.frombuffer(room, kind)


def whole(column: pa.ChunkedArray | pa.Array) -> pa.Array:
    """The column as one array."""
    if isinstance(column, pa.Array):
        return column
    if column.num_chunks == 1:
        return column.chunk(0)
    if not column.num_chunks:
        return pa.array([], column.type)
    if column.null_count or not pa.types.is_primitive(column.type) or column.type.bit_width != 64:
        return pa.concat_arrays(column.chunks)
    numbers = empty(len(column), np.int64)
    ends = np.cumsum([0, *(len(chunk) for chunk in column.chunks)])

    def copy(number: int) -> None:
        numbers[ends[number] : ends[number + 1]] = column.chunk(number).view(pa.int64()).to_numpy()

    for _ in in_order(copy, range(column.num_chunks)):
        pass
    return pa.array(numbers).view(column.type)


def as_text(values: pa.Array) -> pa.Array:
    """Values as a message shows them: times without parts of a second."""
    values = whole(values)
    if pa.types.is_timestamp(values.type):
        values = values.cast(pa.timestamp("s"), safe=False)
    return values.cast(pa.string())


def rises(numbers: np.ndarray) -> bool:
    """Whether every number is larger than the one before."""
    return all(
        in_parts(
            lambda part: (
                (numbers[part][1:] > numbers[part][:-1]).all()
                and (not part.start or numbers[part.start - 1] < numbers[part.start])
            ),
            len(numbers),
        )
    )


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
    chunks = texts.chunks if isinstance(texts, pa.ChunkedArray) else [texts]
    if not pa.types.is_dictionary(texts.type):
        chunks = [chunk.cast(pa.string()).dictionary_encode() for chunk in chunks]
    if len(chunks) == 1 and _is_distinct(chunks[0].dictionary):
        distinct = chunks[0].dictionary.cast(pa.string())
        indices = chunks[0].indices
        if indices.null_count:
            indices = indices.fill_null(len(distinct))
        return indices.to_numpy(zero_copy_only=False), distinct
    words = [chunk.dictionary.cast(pa.string()) for chunk in chunks]
    known = pa.chunked_array(words, pa.string()).combine_chunks().dictionary_encode()
    distinct, places = known.dictionary, known.indices.to_numpy(zero_copy_only=False)
    ends = np.cumsum([0, *(len(chunk) for chunk in chunks)])
    word_ends = np.cumsum([0, *(len(one) for one in words)])
    codes = empty(int(ends[-1]), np.int32)

    def fill(number: int) -> None:
        here = slice(word_ends[number], word_ends[number + 1])
        mapped = np.append(places[here], len(distinct)).astype(np.int32)
        indices = chunks[number].indices
        if indices.null_count:
            indices = indices.fill_null(len(mapped) - 1)
        out = codes[ends[number] : ends[number + 1]]
        np.take(mapped, indices.to_numpy(zero_copy_only=False), out=out)

    for _ in in_order(fill, range(len(chunks))):
        pass
    return codes, distinct


def _is_distinct(words: pa.Array) -> bool:
    return not words.null_count and len(words.unique()) == len(words)
