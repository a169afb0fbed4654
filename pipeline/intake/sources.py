"""Which files a load reads, under what names, and in what order."""

import re
from dataclasses import dataclass
from pathlib import Path

from pipeline import schema
from pipeline.errors import RefusedFile
from pipeline.intake import contents, readers, text_files
from pipeline.intake.receipt import Receipt
from pipeline.intake.to_fix import SHEET

EXPORTS = "exports"


@dataclass
class Source:
    """A file to load: its path, the name it goes by in accounts, its turn (by table), and whether it is a sheet of
    ours for mending, which loads after the exports of its table and by our own column names."""

    path: Path
    name: str
    turn: int
    mended: bool


def find(clinic: Path, paths: list[Path] | None, mapping, receipt: Receipt) -> list[Source]:
    """The files to load, in the order they load."""
    exports = clinic / EXPORTS
    files: list[Path] = []
    for path in [exports] if paths is None else paths:
        if not path.is_dir():
            files.append(path)
            continue
        for inside in sorted(path.rglob("*")):
            if not inside.is_file() or inside.name.startswith((".", "~$")):
                continue
            if inside.suffix.casefold() in contents.ENDINGS:
                files.append(inside)
            else:
                receipt.ignored.append(inside.name)
    tables = list(schema.TABLES)
    sources = []
    for path in dict.fromkeys(files):
        try:
            name = path.resolve().relative_to(exports.resolve()).as_posix()
        except ValueError:
            name = path.name
        mapped = [kind.table for kind in mapping.kinds(path) if kind.table]
        try:
            table, mended = _table_of(path)
        except RefusedFile:
            table, mended = tables[0], False
        if mapped and not mended:
            table = min(mapped, key=tables.index)
        sources.append(Source(path, name, tables.index(table), mended))
    return sorted(sources, key=lambda source: (source.turn, source.mended, _natural(source.name)))


def _table_of(path: Path) -> tuple[str, bool]:
    """(table that decides a file's turn, whether it is a sheet of ours for mending). Raises RefusedFile."""
    if contents.check(path) in ("text", "gzip", "zstandard"):
        return text_files.table_of(path)
    # A workbook is not opened for this: our sheets are known by the name we gave them.
    if SHEET in path.stem:
        return next((table for table in schema.TABLES if path.stem.startswith(table)), "cases"), True
    return readers.table_of(path), False


def _natural(name: str) -> list:
    """Sorts 'march 2' before 'march 10', and 'march' before 'march (2)'."""
    stem, _, ending = name.casefold().rpartition(".")
    return [[int(part) if part.isdigit() else part for part in re.split(r"(\d+)", stem)], ending]
