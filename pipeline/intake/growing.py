"""Columns of a large file, filled block by block into one array each: memory is asked for once, not at every block."""

import numpy as np
import pyarrow as pa

from pipeline.intake.arrays import empty, in_order

TYPES = {"number": (np.float64, pa.float64()), "time": (np.int64, pa.timestamp("us")), "word": (np.int32, None)}


class Growing:
    """One column. add appends a block's cells; done, called once, gives the whole column."""

    def __init__(self, kind: str, expected: int):
        """kind: 'number', 'time' or 'word'; expected: rows the file seems to have."""
        self.kind, self.length = kind, 0
        self.cells = empty(expected, TYPES[kind][0])
        self.unknown: list[np.ndarray] = []
        self.words: list[tuple[int, pa.Array]] = []

    def add(self, column: pa.ChunkedArray) -> None:
        for chunk in column.chunks:
            self._add(chunk)

    def _add(self, chunk: pa.Array) -> None:
        start, self.length = self.length, self.length + len(chunk)
        if self.length > len(self.cells):
            self._resize(max(self.length, len(self.cells) * 5 // 4))
        if chunk.null_count:
            self.unknown.append(start + np.flatnonzero(chunk.is_null()))
        if self.kind == "word":
            self.words.append((start, chunk.dictionary))
            numbers = chunk.indices.fill_null(0)
        elif self.kind == "time":
            numbers = chunk.view(pa.int64()).fill_null(0)
        else:
            numbers = chunk.fill_null(0)
        self.cells[start : self.length] = numbers.to_numpy(zero_copy_only=False)

    def _resize(self, length: int) -> None:
        larger = empty(length, TYPES[self.kind][0])
        larger[: len(self.cells)] = self.cells
        self.cells = larger

    def done(self) -> pa.Array:
        cells, mask = self.cells[: self.length], None
        if self.unknown:
            mask = np.zeros(self.length, bool)
            mask[np.concatenate(self.unknown)] = True
        if self.kind == "word":
            return self._of_one_dictionary(cells, mask)
        values = pa.array(cells, mask=mask)
        return values.view(TYPES[self.kind][1]) if self.kind == "time" else values

    def _of_one_dictionary(self, cells: np.ndarray, mask: np.ndarray | None) -> pa.DictionaryArray:
        """The words of all blocks numbered as one; each block's own numbers are changed to these in place."""
        known = pa.concat_arrays([words for _, words in self.words] or [pa.array([], pa.string())]).dictionary_encode()
        numbers = known.indices.to_numpy(zero_copy_only=False)
        ends = np.cumsum([0, *(len(words) for _, words in self.words)])
        starts = [start for start, _ in self.words] + [len(cells)]

        def renumber(block: int) -> None:
            mine = numbers[ends[block] : ends[block + 1]]
            here = cells[starts[block] : starts[block + 1]]
            if len(mine):
                here[:] = mine[here]

        for _ in in_order(renumber, range(len(self.words))):
            pass
        return pa.DictionaryArray.from_arrays(pa.array(cells, mask=mask), known.dictionary)


def lines_of(runs: list[tuple[int, int] | np.ndarray]) -> pa.Array:
    """The line of each row, from runs of lines (first, how many) or, where some are missing, the lines themselves."""
    length = sum(run[1] if isinstance(run, tuple) else len(run) for run in runs)
    lines, start = empty(length, np.int64), 0
    for run in runs:
        if isinstance(run, tuple):
            lines[start : start + run[1]] = np.arange(run[0], run[0] + run[1])
            start += run[1]
        else:
            lines[start : start + len(run)] = run
            start += len(run)
    return pa.array(lines)
