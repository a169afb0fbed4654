"""The slow, exact way to cut lines into cells, for files with line breaks in cells, stray quotes or unreadable bytes.

A cell may run over one line end. One that runs over more is taken for a quote that was never
closed: its first line is set apart and reading goes on with the next, so that one stray quote
costs one line, not the rest of the file.
"""

import csv
from collections.abc import Iterator

import pyarrow as pa

from pipeline.intake.encodings import UNREADABLE, Decoded

LONGEST_CELL = 100_000
# Lines one record may stand on: each of its cells may break once, within reason.
MOST_LINES = 8


def cut(decoded: Decoded, separator: str, header_line: int, width: int, wanted: list[int]):
    """(cells, lines, rejected, set aside) below the header; columns c0, c1, ... as text."""
    columns: list[list[str | None]] = [[] for _ in wanted]
    lines: list[int] = []
    rejected: list[tuple[int, str, str]] = []
    set_aside: list[tuple[int, str]] = []
    for line, cells, used, fault, text in records(decoded, separator, header_line, width):
        if fault:
            rejected.append((line, text, fault))
            continue
        for column, number in zip(columns, wanted, strict=True):
            column.append(cells[number] or None)
        lines.append(line)
        set_aside += [(line + more, "the rest of the row above it") for more in range(1, used)]
    cells = pa.table({f"c{n}": pa.array(column, pa.string()) for n, column in zip(wanted, columns, strict=True)})
    return cells, pa.array(lines, pa.int64()), rejected, set_aside


def records(decoded: Decoded, separator: str, skip: int, width: int) -> Iterator[tuple[int, list[str], int, str, str]]:
    """(line, cells, lines used, fault or '', text) of every record; a blank line is a record of empty cells."""
    texts = _lines(decoded)
    for _ in range(skip):
        next(texts, None)
    ahead: list[str] = []
    line = skip

    def fetch(count: int) -> bool:
        while len(ahead) < count:
            text = next(texts, None)
            if text is None:
                return False
            ahead.append(text)
        return True

    while fetch(1):
        line += 1
        cells, used, fault = None, 1, ""
        if decoded.damaged and (UNREADABLE in ahead[0] or "\0" in ahead[0]):
            fault = "unreadable_byte"
        else:
            cells, used, fault = _record(ahead, fetch, separator, width)
        yield line, cells, used, fault, ahead[0]
        del ahead[:used]
        line += used - 1


def _record(ahead: list[str], fetch, separator: str, width: int) -> tuple[list[str] | None, int, str]:
    for used in range(1, MOST_LINES + 1):
        if not fetch(used):
            break
        text = "\n".join(ahead[:used])
        if _open(text, separator):
            continue
        cells = _cells(text, separator)
        if cells is None or any(cell.count("\n") > 1 for cell in cells):
            break
        if not any(cells):
            return [""] * width, used, ""
        if len(cells) > width and not any(cells[width:]):
            cells = cells[:width]
        if len(cells) == width:
            return cells, used, ""
        if used > 1:
            break
        return None, 1, "too_few_cells" if len(cells) < width else "too_many_cells"
    return None, 1, "unbalanced_quote"


def _open(text: str, separator: str) -> bool:
    """Whether the last cell of a text opens a quote that it does not close."""
    try:
        next(csv.reader([text], delimiter=separator, strict=True), None)
    except csv.Error as cause:
        return "unexpected end of data" in str(cause)
    return False


def _cells(text: str, separator: str) -> list[str] | None:
    try:
        rows = list(csv.reader([text], delimiter=separator))
    except csv.Error:
        return None
    cells = rows[0] if rows else []
    return None if any(len(cell) > LONGEST_CELL for cell in cells) else cells


def _lines(decoded: Decoded) -> Iterator[str]:
    """Lines without their ends."""
    decoded.stream.seek(0)
    for line in decoded.stream:
        yield line.decode("utf-8").removesuffix("\n").removesuffix("\r")
