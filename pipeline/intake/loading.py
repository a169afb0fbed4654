"""Files into the record: each wholly or not at all, every row accounted for, safe to repeat."""

import json
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pipeline import schema
from pipeline.errors import RefusedFile
from pipeline.intake import (
    books,
    case_rules,
    contents,
    flags,
    headers,
    identity,
    keys,
    mending,
    orphans,
    quarantine,
    readers,
    text_files,
    to_fix,
)
from pipeline.intake import findings as found
from pipeline.intake.cells import TypedGrid, type_grid
from pipeline.intake.encodings import sha256
from pipeline.intake.grid import Grid, Note
from pipeline.intake.incoming import NEW, QUARANTINED, REPLACED, UNCHANGED, Incoming, assemble
from pipeline.intake.mapping import read as read_mapping
from pipeline.intake.mapping.offsets import monitor_offsets
from pipeline.intake.receipt import FileAccount, Receipt
from pipeline.models.seeds import plausibility
from pipeline.progress import Silent
from pipeline.settings import Settings

EXPORTS = "exports"


@dataclass
class Source:
    """A file to load: its path, the name it goes by in accounts, and its turn: by table, sheets
    for mending after the exports."""

    path: Path
    name: str
    turn: tuple[int, bool]


def load(db, settings: Settings, clinic: Path, paths: list[Path] | None = None, progress=None) -> Receipt:
    """Loads files (or everything in the clinic's exports/) and returns what became of every row.

    A refused file is in receipt.refused and leaves nothing; the others load. Each file is one
    transaction. Tables are loaded in the schema's order whatever the files are called; of two
    files of one table the later by name is the newer.
    """
    progress = progress or Silent()
    books.prepare(db)
    receipt = Receipt()
    mapping = read_mapping(clinic)
    for source in _sources(clinic, paths, mapping, receipt):
        progress.step(f"loading {source.name}")
        try:
            _load_file(db, settings, clinic, source, mapping, receipt)
        except RefusedFile as fault:
            receipt.refused.append(fault)
    receipt.fix_sheets = to_fix.write(db, clinic, settings.display.decimal)
    receipt.warnings += monitor_offsets(db)
    progress.finish()
    return receipt


def _starts(db, cases: list[str]) -> dict:
    """Case id -> local start of the case, of those that are loaded."""
    found = db.execute(
        """SELECT case_id, coalesce(induction_at, intubation_at, vaporizer_on_at, premed_at) AS start FROM cases
           WHERE case_id IN (SELECT unnest(?)) AND start IS NOT NULL""",
        [cases],
    )
    return dict(found.fetchall())


def _sources(clinic: Path, paths: list[Path] | None, mapping, receipt: Receipt) -> list[Source]:
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


def _load_file(db, settings: Settings, clinic: Path, source: Source, mapping, receipt: Receipt) -> None:
    if not source.path.is_dir():
        contents.head_of(source.path, 1)  # a file nobody can open is refused before it is read
    digest = sha256(source.path) if source.path.is_file() else ""
    known = db.execute("SELECT part, table_name, rows_read, lines FROM files WHERE sha256 = ? ORDER BY part", [digest])
    if earlier := known.fetchall():
        receipt.files += [
            FileAccount(
                source.name, part, table, lines=lines, read=read, unchanged=read, set_aside=lines - read, known=True
            )
            for part, table, read, lines in earlier
        ]
        return
    grids = readers.read(source.path, mapping, lambda cases: _starts(db, cases))
    grids.sort(key=lambda pair: list(schema.TABLES).index(pair[0]))
    db.execute("BEGIN TRANSACTION")
    try:
        accounts = [_load_grid(db, settings, clinic, source, digest, table, grid) for table, grid in grids]
        released = orphans.release(db)
        db.execute("COMMIT")
    except BaseException:
        db.execute("ROLLBACK")
        raise
    receipt.files += accounts
    receipt.released += released


def _load_grid(
    db, settings: Settings, clinic: Path, source: Source, digest: str, table: str, grid: Grid
) -> FileAccount:
    (file_id,) = db.execute("SELECT coalesce(max(file_id), 0) + 1 FROM files").fetchall()[0]
    hide, mended = None, headers.is_mending(grid.header)
    if mended:
        mending.undo_defusing(grid)
    if settings.privacy.patient_ids == "hash" and "patient_id" in grid.header:
        key = identity.key_of(clinic)

        def hide(patient):
            # A sheet of ours for mending carries pseudonyms already.
            return patient if mended and identity.PSEUDONYM.fullmatch(patient) else identity.pseudonym(key, patient)

    typed = type_grid(db, table, grid, settings.zone, hide)
    case_rules.apply(typed, grid, plausibility(settings))
    incoming = assemble(typed, grid)
    keys.within_file(incoming)
    orphans.set_apart(db, incoming, file_id)
    if typed.order:
        grid.facts["dates"] = typed.order
    mask = keys.against_loaded(db, incoming, file_id)
    keys.insert(db, incoming, mask, file_id)
    quarantine.write(db, incoming, typed, grid, file_id, source.name)
    flags.write(db, incoming, typed, grid, file_id, source.name)
    mending.clear(db, incoming, grid, file_id)
    account = _account(source, table, grid, typed, incoming)
    books.write_notes(db, file_id, source.name, account.notes)
    _write_file(db, source, digest, file_id, grid, account)
    return account


def _account(source: Source, table: str, grid: Grid, typed: TypedGrid, incoming: Incoming) -> FileAccount:
    """Counts every source row once: quarantined before replaced before new before unchanged."""
    state = incoming.state
    became = (
        np.select(
            [state & QUARANTINED > 0, state & REPLACED > 0, state & NEW > 0, state & UNCHANGED > 0],
            [QUARANTINED, REPLACED, NEW, UNCHANGED],
        )
        if (state & (state - 1)).any()
        else state
    )
    counted = {what: int(np.count_nonzero(became == what)) for what in (NEW, UNCHANGED, REPLACED, QUARANTINED)}
    aside = {line for line, _ in incoming.set_aside}
    empty = [int(line) for line in incoming.lines[became == 0] if int(line) not in aside]
    incoming.set_aside += [(line, "no reading in it") for line in empty]
    account = FileAccount(
        source.name,
        grid.part,
        table,
        encoding=grid.facts.get("encoding", ""),
        separator=grid.facts.get("separator", ""),
        decimal=typed.decimal,
        facts=dict(grid.facts),
        read=sum(counted.values()) + len(grid.rejected),
        new=counted[NEW],
        unchanged=counted[UNCHANGED],
        replaced=counted[REPLACED],
        quarantined=counted[QUARANTINED] + len(grid.rejected),
        set_aside=len(incoming.set_aside),
        notes=[*grid.notes, *_notes(typed), *_absent(incoming)],
        problems=_problems(incoming, grid),
    )
    account.lines = len(incoming.lines) + len(grid.rejected) + len(grid.set_aside)
    if account.read != account.new + account.unchanged + account.replaced + account.quarantined:
        raise AssertionError(f"{source.name}: rows read do not add up: {account}")
    if account.lines != account.read + account.set_aside:
        raise AssertionError(f"{source.name}: lines do not add up: {account}")
    return account


def _absent(incoming: Incoming) -> list[Note]:
    if not incoming.absent:
        return []
    what = (
        "cases of this file's period"
        if incoming.table == "cases"
        else f"rows of {incoming.table} beside those in this file"
    )
    sentence = (
        f"{incoming.absent:,} {what} were loaded before and are not in it; they are kept. Deleted, or filtered out?"
    )
    return [Note("absent_in_newer_export", "W", "", incoming.absent, sentence)]


def _notes(typed: TypedGrid) -> list[Note]:
    notes = []
    columns = headers.columns_of(typed.table)
    for finding in typed.findings:
        if finding.kind == "Q" or not len(finding):
            continue
        column, values = columns[finding.column], typed.values[finding.column]
        examples = []
        if finding.texts is not None and not column.personal:
            for position, text in zip(finding.positions[:200], finding.texts[:200].to_pylist(), strict=True):
                after = values[int(position)].as_py()
                example = f"{text} -> {'unknown' if after is None else after}"
                if example not in examples:
                    examples.append(example)
        sentence = found.note_sentence(finding.rule, finding.kind, finding.column)
        notes.append(Note(finding.rule, finding.kind, finding.column, len(finding), sentence, tuple(examples[:2])))
    return notes


def _problems(incoming: Incoming, grid: Grid) -> list[tuple[str, int]]:
    """(first sentence, how many rows) of each rule that quarantined rows."""
    said: dict[tuple[str, str], list] = {}
    for problem in incoming.problems:
        if not len(problem.units):
            continue
        entry = said.setdefault((problem.rule, problem.column), [problem.reasons[0].as_py(), 0])
        entry[1] += len(problem.units)
    for why, count in Counter(why for *_, why in grid.rejected).items():
        line = next(line for line, _, rule in grid.rejected if rule == why)
        said[(why, "")] = [quarantine.rejected_reason(line, why), count]
    return [tuple(entry) for entry in said.values()]


def _write_file(db, source: Source, digest: str, file_id: int, grid: Grid, account: FileAccount) -> None:
    db.execute(
        "INSERT INTO files VALUES (?, ?, ?, ?, ?, now()::TIMESTAMP, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [file_id, source.name, grid.part, digest, source.path.stat().st_size, account.table, grid.mapping,
         account.encoding, account.separator, account.decimal, json.dumps(grid.facts, ensure_ascii=False),
         account.lines, account.read, account.new, account.unchanged, account.replaced, account.quarantined,
         account.set_aside],
    )  # fmt: skip
