"""Which column of a file is which of ours: by mapping.toml, with every column accounted for."""

from pipeline import schema
from pipeline.errors import RefusedFile
from pipeline.intake.grid import Grid, Note
from pipeline.intake.mapping import words
from pipeline.intake.mapping.clinic_file import FILE, NOT_LOADED, FileKind


def targets_of_file(grid: Grid, kind: FileKind) -> dict[str, str]:
    """header -> our column, of the headers this file has. Raises RefusedFile where a needed one is gone."""
    known = {words.tidy(header): column for header, column in kind.columns.items()}
    folded = {words.fold_header(header): column for header, column in kind.columns.items()}
    targets, left = {}, []
    for header in grid.header:
        column = known.get(header) or folded.get(words.fold_header(header))
        if column and column != NOT_LOADED:
            targets[header] = column
        elif column is None and header not in kind.events:
            left.append(header)
    needed = {column for column in schema.TABLES[kind.table].required if column in kind.columns.values()}
    gone = [
        header for header, column in kind.columns.items() if column not in targets.values() and column != NOT_LOADED
    ]
    if lacking := [header for header in gone if kind.columns[header] in needed]:
        ours = ", ".join(kind.columns[header] for header in lacking)
        raise RefusedFile(
            where=f"{grid.file.name}{f', sheet {grid.part}' if grid.part else ''}",
            found=f"the columns {', '.join(grid.header)}",
            wanted=f"also {', '.join(lacking)}, which {FILE} reads as {ours}",
            fix=f"export it with that column, or name the new header under [[file]] {kind.name} in {FILE}",
        )
    if gone:
        why = f"Columns named in {FILE} are not in this file: {', '.join(gone)}."
        grid.notes.append(Note("column_gone", "W", "", len(gone), why))
    if left:
        why = f"Columns that {FILE} does not name were not loaded: {', '.join(left)}."
        grid.notes.append(Note("column_not_mapped", "A", "", len(left), why))
    return _one_each(grid, kind, targets)


def _one_each(grid: Grid, kind: FileKind, targets: dict[str, str]) -> dict[str, str]:
    """Two headers of one column: the same cells count once, other cells need an answer. Raises RefusedFile."""
    first: dict[str, str] = {}
    for header, column in list(targets.items()):
        if column not in first:
            first[column] = header
        elif grid.cells.column(header).equals(grid.cells.column(first[column])):
            why = f"The columns {first[column]} and {header} hold the same; one was read."
            grid.notes.append(Note("column_twice", "N", column, 1, why))
            targets.pop(header)
        else:
            raise RefusedFile(
                where=f"{grid.file.name}, header",
                found=f"two columns for {column}: {first[column]} and {header}, with different cells",
                wanted="one",
                fix=f'write "{header}" = "{NOT_LOADED}" (or the other) under columns of {kind.name} in {FILE}',
            )
    return targets
