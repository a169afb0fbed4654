"""Which files a load reads, under what names, and in what order."""

import re
from dataclasses import dataclass
from pathlib import Path

from pipeline import schema
from pipeline.errors import RefusedFile
from pipeline.intake import contents, readers, text_files
from pipeline.intake.receipt import Receipt

EXPORTS = "exports"


@dataclass
class Source:
    """A file to load: its path, the name it goes by in accounts, and its turn: by table, sheets
    for mending after the exports."""

    path: Path
    name: str
    turn: tuple[int, bool]


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
        table, mended = tables[0], False
        mapped = [kind.table for kind in mapping.kinds(path) if kind.table]
        try:
            if mapped:
                table = min(mapped, key=tables.index)
            elif contents.check(path) in ("text", "gzip", "zstandard"):
                table, mended = text_files.table_of(path)
            else:
                table = readers.table_of(path)
        except RefusedFile:
            table = tables[0]
        sources.append(Source(path, name, (tables.index(table), mended)))
    return sorted(sources, key=lambda source: (source.turn, _natural(source.name)))


def _natural(name: str) -> list:
    """Sorts 'march 2' before 'march 10', and 'march' before 'march (2)'."""
    stem, _, ending = name.casefold().rpartition(".")
    return [[int(part) if part.isdigit() else part for part in re.split(r"(\d+)", stem)], ending]
