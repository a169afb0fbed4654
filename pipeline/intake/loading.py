"""Files into the record: each wholly or not at all, every row accounted for, safe to repeat."""

import hashlib
import json
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from pipeline import schema
from pipeline.errors import RefusedFile
from pipeline.intake import (
    accounts,
    books,
    case_rules,
    contents,
    flags,
    headers,
    identity,
    keys,
    mending,
    merging,
    orphans,
    quarantine,
    readers,
    sources,
    to_fix,
)
from pipeline.intake.assembling import assemble
from pipeline.intake.cells import type_grid
from pipeline.intake.encodings import sha256
from pipeline.intake.grid import Grid
from pipeline.intake.mapping import read as read_mapping
from pipeline.intake.mapping.offsets import monitor_offsets
from pipeline.intake.receipt import FileAccount, Receipt
from pipeline.models.seeds import plausibility
from pipeline.progress import Silent
from pipeline.settings import Settings


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
    for source in sources.find(clinic, paths, mapping, receipt):
        progress.step(f"loading {source.name}")
        try:
            _load_file(db, settings, clinic, source, mapping, receipt)
        except RefusedFile as fault:
            receipt.refused.append(fault)
    receipt.fix_sheets, too_many = to_fix.write(db, clinic, settings.display.decimal)
    receipt.warnings += too_many
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


def _load_file(db, settings: Settings, clinic: Path, source: sources.Source, mapping, receipt: Receipt) -> None:
    if not source.path.is_dir():
        contents.head_of(source.path, 1)  # a file nobody can open is refused before it is read
    if source.mended:
        mapping = replace(mapping, file=[])
    conditions = _conditions(settings, mapping, source.path)
    with ThreadPoolExecutor(1) as pool:
        # Hashed beside the reading, unless a file of this size is known and may be the same.
        digest = pool.submit(sha256, source.path) if source.path.is_file() else None
        if digest and (earlier := _known(db, source, digest, conditions)):
            receipt.files += earlier
            return
        grids = readers.read(source.path, mapping, lambda cases: _starts(db, cases))
    grids.sort(key=lambda pair: list(schema.TABLES).index(pair[0]))
    for _, grid in grids:
        grid.facts["read_under"] = conditions
    db.execute("BEGIN TRANSACTION")
    try:
        loaded = [_load_grid(db, settings, clinic, source, digest.result(), table, grid) for table, grid in grids]
        released = orphans.release(db)
        db.execute("COMMIT")
    except BaseException:
        db.execute("ROLLBACK")
        raise
    receipt.files += loaded
    receipt.released += released


def _known(db, source: sources.Source, digest: Future, conditions: str) -> list[FileAccount]:
    """The accounts of a file whose content was loaded before; nothing for a new one."""
    size = source.path.stat().st_size
    if not db.execute("SELECT 1 FROM files WHERE bytes = ? LIMIT 1", [size]).fetchall():
        return []
    earlier = db.execute(
        "SELECT name, part, table_name, rows_read, lines, facts FROM files WHERE sha256 = ? ORDER BY part",
        [digest.result()],
    ).fetchall()
    return [
        FileAccount(
            source.name,
            part,
            table,
            lines=lines,
            read=read,
            unchanged=read,
            set_aside=lines - read,
            known=True,
            known_as=name,
            outdated=json.loads(facts).get("read_under") != conditions,
        )
        for name, part, table, read, lines, facts in earlier
    ]


def _conditions(settings: Settings, mapping, path: Path) -> str:
    """A mark of what besides its bytes decides how a file reads: its part of mapping.toml, the zone, privacy."""
    parts = (mapping.kinds(path), replace(mapping, file=[]), settings.zone, settings.privacy.patient_ids)
    return hashlib.sha256(repr(parts).encode("utf-8")).hexdigest()[:12]


def _load_grid(
    db, settings: Settings, clinic: Path, source: sources.Source, digest: str, table: str, grid: Grid
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
    mask = merging.against_loaded(db, incoming, file_id)
    merging.insert(db, incoming, mask, file_id)
    quarantine.write(db, incoming, typed, grid, file_id, source.name)
    flags.write(db, incoming, typed, grid, file_id, source.name)
    mending.clear(db, incoming, grid, file_id)
    account = accounts.settle(source, table, grid, typed, incoming)
    books.write_notes(db, file_id, source.name, account.notes)
    accounts.write(db, source, digest, file_id, grid, account)
    return account
