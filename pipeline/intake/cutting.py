"""Lines cut into cells by pyarrow, block by block on a few threads, every row's line number kept."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as arrow_csv

from pipeline.intake import headers, plain
from pipeline.intake.arrays import in_order
from pipeline.intake.encodings import BLOCK, Decoded
from pipeline.intake.grid import Odd
from pipeline.intake.growing import Growing, lines_of

WORD = pa.dictionary(pa.int32(), pa.string())


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
    odd: dict[str, Odd] = field(default_factory=dict)
    blocks: list["Block"] = field(default_factory=list)


class Block(NamedTuple):
    """Where a block of lines lies in the decoded file, and the position of its first row."""

    start: int
    length: int
    row: int


class NotUtf8(Exception):
    """A large file that was taken for UTF-8 is something else."""


class NotPlain(Exception):
    """A quoted field runs over a line end, or a byte could not be read: the lines need reading one by one."""


def again(decoded: Decoded, found: Layout, wanted: list[int], index: list["Block"], positions: pa.Array) -> pa.Table:
    """The rows at these positions as text, from the blocks of the file that hold them."""
    places = positions.cast(pa.int64()).to_numpy(zero_copy_only=False)
    known = np.isfinite(places.astype(float))
    firsts = np.array([block.row for block in index], np.int64)
    block_of = np.searchsorted(firsts, places[known], "right") - 1
    order = np.full(len(places), -1, np.int64)
    tables, start = [], 0
    for number in np.unique(block_of):
        block = index[number]
        decoded.stream.seek(block.start)
        table, _ = _tokens(decoded.stream.read(block.length), found, wanted, [])
        mine = np.flatnonzero(known)[block_of == number]
        tables.append(table.take(pa.array(places[mine].astype(np.int64) - block.row)))
        order[mine] = np.arange(start, start + len(mine))
        start += len(mine)
    if not tables:
        return pa.table({f"c{number}": pa.nulls(len(places), pa.string()) for number in wanted})
    return pa.concat_tables(tables).take(pa.array(order, mask=order < 0))


def cut(decoded: Decoded, found: Layout, wanted: list[int], kinds: dict[int, str]) -> Cut:
    """The lines below the header as columns 'c0', 'c1', ... of which the wanted ones are kept.

    kinds: what a column is read as, 'number', 'time' or 'word'; text where none is given. Cells that
    are no plain numbers or times then stand in odd. Raises NotPlain.
    """
    if decoded.damaged:
        raise NotPlain
    parse = partial(_parse, found=found, wanted=wanted, kinds=kinds, checked=decoded.checked)
    columns: dict[str, Growing] = {}
    tables, runs, rejected, odd, index, line, row = [], [], [], {}, [], found.line, 0
    for part in in_order(parse, blocks(decoded, found.line)):
        index.append(Block(part.start, part.length, row))
        if part.bad:
            gone = [number - 1 for number, *_ in part.bad]
            runs.append(np.delete(np.arange(line + 1, line + part.lines + 1), gone))
            rejected += [
                (line + number, text, "too_few_cells" if cells < len(found.names) else "too_many_cells")
                for number, text, cells in part.bad
            ]
        else:
            runs.append((line + 1, part.lines))
        for name, (positions, texts) in part.odd.items():
            odd.setdefault(name, []).append((pc.add(positions, row), texts))
        if kinds and not columns:
            expected = _rows_expected(decoded, part)
            columns = {f"c{number}": Growing(kind, expected) for number, kind in kinds.items()}
        for name, column in columns.items():
            column.add(part.table.column(name))
        tables.append(part.table.drop_columns(list(columns)))
        line += part.lines
        row += part.table.num_rows
    if not tables:
        empty = {f"c{number}": pa.array([], plain.TYPES.get(kinds.get(number), pa.string())) for number in wanted}
        return Cut(pa.table(empty), pa.array([], pa.int64()))
    cells = {name: column.done() for name, column in columns.items()}
    rest = pa.concat_tables(tables) if len(cells) < len(wanted) else pa.table({})
    names = [f"c{number}" for number in wanted]
    gathered = {
        name: Odd(pa.concat_arrays([p for p, _ in parts]), pa.concat_arrays([t for _, t in parts]))
        for name, parts in odd.items()
    }
    return Cut(
        pa.table({name: cells[name] if name in cells else rest.column(name) for name in names}),
        lines_of(runs),
        rejected,
        odd=gathered,
        blocks=index,
    )


def _rows_expected(decoded: Decoded, part: "Part") -> int:
    """Rows the file would have if all its blocks were like the first, and a few more."""
    here = decoded.stream.tell()
    size = decoded.stream.seek(0, 2)
    decoded.stream.seek(here)
    return int((part.table.num_rows + 1) * (size / max(part.length, 1)) * 1.02) + 1024


class Part(NamedTuple):
    """One block of lines cut: bad holds (line in the block from 1, its text, how many cells it has)."""

    table: pa.Table
    start: int
    length: int
    lines: int
    bad: list[tuple[int, str, int]]
    odd: dict[str, Odd]


def _parse(place: tuple[int, bytes], found: Layout, wanted: list[int], kinds: dict[int, str], checked: bool) -> Part:
    start, block = place
    if not checked:
        _must_be_utf8(block)
    quotes = block.count(b'"') if b'"' in block else 0
    table, bad = _tokens(block, found, wanted, [number for number, kind in kinds.items() if kind == "word"])
    trailing = any(text.endswith(found.separator) for _, text, cells in bad if cells > len(found.names))
    # A quote that stays open over a line end leaves fewer rows than lines, or an odd number of quotes.
    lines = block.count(b"\n") + (not block.endswith(b"\n")) if quotes else table.num_rows + len(bad)
    if quotes % 2 or table.num_rows + len(bad) != lines or trailing:
        raise NotPlain
    odd = {}
    for number, kind in kinds.items():
        if kind == "word":
            continue
        name = f"c{number}"
        values, strange = plain.split_block(table.column(name), kind)
        table = table.set_column(table.column_names.index(name), name, values)
        if len(strange.positions):
            odd[name] = strange
    return Part(table, start, len(block), lines, bad, odd)


def _must_be_utf8(block: bytes) -> None:
    """Raises NotUtf8 for a block that decode would not take for UTF-8 with plain line ends."""
    if b"\0" in block or (b"\r" in block and block.count(b"\r") != block.count(b"\r\n")):
        raise NotUtf8
    if not block.isascii():
        try:
            block.decode()
        except UnicodeDecodeError as cause:
            raise NotUtf8 from cause


def _tokens(block: bytes, found: Layout, wanted: list[int], words: list[int]):
    """(cells as text, lines with another number of cells) of a block; words: columns of few distinct texts."""
    names = [f"c{number}" for number in range(len(found.names))]
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
        convert_options=arrow_csv.ConvertOptions(
            column_types={name: WORD if number in words else pa.string() for number, name in enumerate(names)},
            include_columns=[names[number] for number in wanted],
            null_values=[""],
            strings_can_be_null=True,
        ),
    )
    return table, bad


def blocks(decoded: Decoded, skip: int) -> Iterator[tuple[int, bytes]]:
    """(where it starts, the bytes) of blocks that end with a line, below the first skip lines."""
    stream = decoded.stream
    stream.seek(0)
    for _ in range(skip):
        stream.readline()
    start = stream.tell()
    while block := stream.read(BLOCK):
        if not block.endswith(b"\n"):
            block += stream.readline()
        yield start, block
        start += len(block)
