"""CSV, TSV and their like: the header found, the lines cut into cells by pyarrow, every row's line number kept."""

import csv
import io
from collections import deque
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as arrow_csv

from pipeline.errors import RefusedFile
from pipeline.intake import headers
from pipeline.intake.encodings import BLOCK, Decoded, decode
from pipeline.intake.grid import Grid, Note, Odd

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe"}
HEADER_LINES = 30
WORKERS = 2


@dataclass(frozen=True)
class Layout:
    """Where the header stands and how its file is cut. names: as written; line: of the header, from 1."""

    separator: str
    line: int
    names: list[str]

    @property
    def clean(self) -> list[str]:
        return [headers.clean(name) for name in self.names]


@dataclass
class Cut:
    """Lines cut into cells: one column a name, the line of each row, what could not be cut, what is no record."""

    cells: pa.Table
    rows: pa.Array
    rejected: list[tuple[int, str, str]] = field(default_factory=list)
    set_aside: list[tuple[int, str]] = field(default_factory=list)


class NotPlain(Exception):
    """A quoted field runs over a line end, or a byte could not be read: the lines need reading one by one."""


def layout(decoded: Decoded) -> Layout:
    """The header among the first lines, and the separator under which it has most of our names."""
    text = decoded.head()
    best, best_known = None, -1
    for separator in SEPARATORS:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
        try:
            for cells in reader:
                if reader.line_num > HEADER_LINES:
                    break
                known = headers.known(headers.clean(cell) for cell in cells)
                if known > best_known and any(cells):
                    best, best_known = Layout(separator, reader.line_num, cells), known
        except csv.Error:
            continue
    if best is None:
        raise RefusedFile(
            where=decoded.path.name,
            found="no text in it",
            wanted="a line of column names and rows below it",
            fix="export it again",
        )
    return best


def peek(path: Path) -> tuple[str, Layout]:
    """The table a text file holds, by its header. Raises RefusedFile."""
    found = layout(decode(path))
    return headers.table_of([name for name in found.clean if name], path), found


def cut(decoded: Decoded, found: Layout, wanted: list[int], types: dict[int, pa.DataType]) -> Cut:
    """The lines below the header as columns 'c0', 'c1', ... of which the wanted ones are kept.

    types: pyarrow type to read a column as; text where none is given. Raises NotPlain, and
    pyarrow.ArrowInvalid when a cell does not fit the type asked for.
    """
    if decoded.damaged:
        raise NotPlain
    names = [f"c{number}" for number in range(len(found.names))]
    kept = [names[number] for number in wanted]
    convert = arrow_csv.ConvertOptions(
        column_types={name: types.get(number, pa.string()) for number, name in enumerate(names)},
        include_columns=kept,
        null_values=[""],
        strings_can_be_null=True,
    )

    def parse(block: bytes):
        bad = []

        def skip(row):
            bad.append((row.number, row.text, row.actual_columns))
            return "skip"

        table = arrow_csv.read_csv(
            pa.BufferReader(block),
            read_options=arrow_csv.ReadOptions(column_names=names, use_threads=False, block_size=len(block) + 1),
            parse_options=arrow_csv.ParseOptions(
                delimiter=found.separator, ignore_empty_lines=False, invalid_row_handler=skip
            ),
            convert_options=convert,
        )
        lines = block.count(b"\n") + (not block.endswith(b"\n"))
        if block.count(b'"') % 2 or table.num_rows + len(bad) != lines:
            raise NotPlain
        return table, bad, lines

    tables, rows, rejected, line = [], [], [], found.line
    for table, bad, lines in _in_order(parse, blocks(decoded, found.line)):
        numbers = np.arange(line + 1, line + lines + 1, dtype=np.int64)
        if bad:
            numbers = np.delete(numbers, [number - 1 for number, _, _ in bad])
            rejected += [(line + number, text, str(cells)) for number, text, cells in bad]
        tables.append(table)
        rows.append(numbers)
        line += lines
    if not tables:
        empty = {f"c{number}": pa.array([], types.get(number, pa.string())) for number in wanted}
        return Cut(pa.table(empty), pa.array([], pa.int64()))
    return Cut(pa.concat_tables(tables), pa.array(np.concatenate(rows)), rejected)


def _in_order(work, inputs):
    """work(input) for each input on a few threads, results in the inputs' order, few in memory at once."""
    with ThreadPoolExecutor(WORKERS) as pool:
        waiting = deque()
        for item in inputs:
            waiting.append(pool.submit(work, item))
            if len(waiting) > 2 * WORKERS:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def blocks(decoded: Decoded, skip: int):
    """The bytes below the first skip lines, in blocks that end with a line."""
    stream, rest = decoded.stream, b""
    stream.seek(0)
    for _ in range(skip):
        stream.readline()
    while block := stream.read(BLOCK):
        end = block.rfind(b"\n") + 1
        if not end:
            rest += block
            continue
        yield rest + block[:end]
        rest = block[end:]
    if rest:
        yield rest
