"""Readers of every kind of file a clinic exports, each handing on Grids of our columns.

A file is read by its content. A kind of file in mapping.toml says how its columns read; a file whose headers are
ours needs none; HL7 FHIR R4 resources are known by themselves.
"""

import re
from pathlib import Path

from pipeline.errors import RefusedFile
from pipeline.intake import contents, encodings, headers
from pipeline.intake.grid import Grid
from pipeline.intake.mapping import FILE

# Whose account an HL7 FHIR resource of each type stands in; every other type stands in that of the cases.
FHIR_TABLES = {
    "Observation": "vitals", "MedicationAdministration": "drugs", "Medication": "drugs", "AdverseEvent": "events",
}  # fmt: skip


def read(path: Path, mapping, starts=None) -> list[tuple[str, Grid]]:
    """(table, grid) of every table in a file. Raises RefusedFile.

    mapping: as mapping.read gives it; starts: case ids -> local start of their cases, for clocks in a file
    that names no day (see mapping.apply).
    """
    from pipeline.intake.mapping.plain_files import tidied

    found = _read(path, mapping, starts)
    return [(table, grid if grid.mapping else tidied(table, grid, mapping, starts)) for table, grid in found]


def _read(path: Path, mapping, starts) -> list[tuple[str, Grid]]:
    kind = contents.check(path)
    if kind in ("gzip", "zstandard"):
        kind = contents.kind_of(encodings.head(path)[:200].encode())  # an archive of text or of JSON lines
    if kind in ("workbook", "old_workbook"):
        from pipeline.intake.readers import open_sheets

        return open_sheets.read(path, mapping, starts)
    if kind == "parquet":
        from pipeline.intake.readers import columnar

        return of_one(columnar.parquet(path), mapping, starts)
    if kind == "json":
        from pipeline.intake.readers import columnar, fhir

        found, odd = columnar.json_lines(path)
        if any("resourceType" in one for _, one in found[:5]):
            return fhir.read(path, found, odd, mapping)
        return of_one(columnar.records(path, found, odd), mapping, starts)
    from pipeline.intake.readers import mapped_text

    return mapped_text.read(path, mapping, starts)


def table_of(path: Path) -> str:
    """The first table, in the order they load, of a file that is no text, by as little of it as tells it."""
    kind = contents.check(path)
    if kind == "parquet":
        from pyarrow.parquet import read_schema

        return headers.table_of([headers.clean(name) for name in read_schema(path).names], path)
    if kind == "json":
        found = re.search(r'"resourceType"\s*:\s*"(\w+)"', encodings.head(path)[:4096])
        return FHIR_TABLES.get(found[1], "cases") if found else "cases"
    return "cases"


def of_one(grid: Grid, mapping, starts=None) -> list[tuple[str, Grid]]:
    """A grid with its columns named, by every kind of mapping.toml that fits it; by our own names if none does."""
    from pipeline.intake.mapping.apply import apply

    kinds = [kind for kind in mapping.kinds(grid.file, grid.part) if kind.table]
    if kinds:
        return [(kind.table, apply(grid, kind, mapping, starts=starts)) for kind in kinds]
    return [canonical(grid)]


def canonical(grid: Grid) -> tuple[str, Grid]:
    """A grid whose columns are ours but for case and spaces. Raises RefusedFile where they are not."""
    clean = [headers.clean(name) for name in grid.header]
    table = headers.table_of(clean, grid.file)
    known = headers.columns_of(table)
    kept = {
        name: grid.cells.column(header)
        for name, header in zip(clean, grid.header, strict=True)
        if name in known or name in headers.MENDING
    }
    grid.odd = {headers.clean(header): odd for header, odd in grid.odd.items()}
    grid.cells = type(grid.cells).from_arrays(list(kept.values()), names=list(kept))
    return table, grid


def no_kind(path: Path, part: str, header: list[str]) -> RefusedFile:
    """The fault for a file or sheet that neither mapping.toml nor our column names make sense of."""
    return RefusedFile(
        where=f"{path.name}{f', sheet {part}' if part else ''}",
        found=f"columns we cannot place: {', '.join(header[:12])}" if header else "no line of column names",
        wanted=f"our column names, or a [[file]] in {FILE} for this file",
        fix=f"run `rounds map {path.name}` and answer its questions",
    )
