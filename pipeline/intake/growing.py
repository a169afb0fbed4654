"""Columns of a large file, filled block by block into one array each: memory is asked for once, not at every block."""

import numpy as np
import pyarrow as pa

SMALL = np.iinfo(np.int16).max
TYPES = {"number": (np.float64, pa.float64()), "time": (np.int64, pa.timestamp("us")), "word": (np.int16, None)}
NOTHING = -1


class Growing:
    """One column. add appends a block's cells; done gives the whole column, words with one dictionary."""

    def __init__(self, kind: str, expected: int):
        """kind: 'number', 'time' or 'word'; expected: rows the file seems to have."""
        self.kind, self.length = kind, 0
        self.cells = np.empty(expected, TYPES[kind][0])
        self.unknown: list[np.ndarray] = []
        self.codes: dict[str, int] = {}

    def add(self, column: pa.ChunkedArray) -> None:
        for chunk in column.chunks:
            self._add(chunk)

    def _add(self, chunk: pa.Array) -> None:
        start, self.length = self.length, self.length + len(chunk)
        if self.length > len(self.cells):
            self._resize(max(self.length, len(self.cells) * 5 // 4))
        if self.kind == "word":
            self._add_words(chunk, start)
            return
        if chunk.null_count:
            self.unknown.append(start + np.flatnonzero(chunk.is_null()))
            chunk = chunk.fill_null(0 if self.kind == "number" else pa.scalar(0, chunk.type))
        numbers = chunk.view(pa.int64()) if self.kind == "time" else chunk
        self.cells[start : self.length] = numbers.to_numpy()

    def _add_words(self, chunk: pa.DictionaryArray, start: int) -> None:
        words = chunk.dictionary.to_pylist()
        codes = [self.codes.setdefault(word, len(self.codes)) for word in words] + [NOTHING]
        if len(self.codes) > SMALL and self.cells.dtype == np.int16:
            self.cells = self.cells.astype(np.int32)
        indices = chunk.indices.fill_null(len(words)) if chunk.null_count else chunk.indices
        here = self.cells[start : self.length]
        np.take(np.array(codes, self.cells.dtype), indices.to_numpy(zero_copy_only=False), out=here)
        if chunk.null_count:
            self.unknown.append(start + np.flatnonzero(here == NOTHING))

    def _resize(self, length: int) -> None:
        larger = np.empty(length, self.cells.dtype)
        larger[: len(self.cells)] = self.cells
        self.cells = larger

    def done(self) -> pa.Array:
        cells, mask = self.cells[: self.length], None
        if self.unknown:
            mask = np.zeros(self.length, bool)
            mask[np.concatenate(self.unknown)] = True
        if self.kind == "word":
            return pa.DictionaryArray.from_arrays(pa.array(cells, mask=mask), pa.array(list(self.codes), pa.string()))
        values = pa.array(cells, mask=mask)
        return values.view(TYPES[self.kind][1]) if self.kind == "time" else values


def lines_of(runs: list[tuple[int, int] | np.ndarray]) -> pa.Array:
    """The line of each row, from runs of lines (first, how many) or, where some are missing, the lines themselves."""
    length = sum(run[1] if isinstance(run, tuple) else len(run) for run in runs)
    lines, start = np.empty(length, np.int64), 0
    for run in runs:
        if isinstance(run, tuple):
            lines[start : start + run[1]] = np.arange(run[0], run[0] + run[1])
            start += run[1]
        else:
            lines[start : start + len(run)] = run
            start += len(run)
    return pa.array(lines)
