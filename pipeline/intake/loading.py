"""Files into the record: each wholly or not at all, every row accounted for, safe to repeat."""

import hashlib
import json
from dataclasses import replace
from pathlib import Path

from pipeline.errors import RefusedFile
from pipeline.intake import accounts, books, flags, mending, merging, orphans, quarantine, sources, to_fix
from pipeline.intake.ahead import NotYet, Read, Reading, Ready
from pipeline.intake.mapping import read as read_mapping
from pipeline.intake.mapping.offsets import monitor_offsets
from pipeline.intake.receipt import FileAccount, Receipt
from pipeline.progress import Silent
from pipeline.settings import Settings

# Files are committed together up to this size: a commit costs as much as reading a small one [bytes].
AT_ONCE = 64 << 20


def load(db, settings: Settings, clinic: Path, paths: list[Path] | None = None, progress=None) -> Receipt:
    """Loads files (or everything in the clinic's exports/) and returns what became of every row.

    A refused file is in receipt.refused and leaves nothing; the others load. A file is stored wholly
    or not at all. Tables are loaded in the schema's order whatever the files are called; of two
    files of one table the later by name is the newer.
    """
    progress = progress or Silent()
    books.prepare(db)
    receipt = Receipt()
    mapping = read_mapping(clinic)
    found = sources.find(clinic, paths, mapping, receipt)
    known: dict[int, set[str]] = {}
    for size, digest in db.execute("SELECT DISTINCT bytes, sha256 FROM files").fetchall():
        known.setdefault(size, set()).add(digest)
    reading = Reading(db, settings, clinic, mapping, known, lambda source: _conditions(settings, mapping, source))
    with _Storing(db, receipt) as storing:
        for source, ahead in reading.ahead(found):
            progress.step(f"loading {source.name}")
            try:
                read = _finished(ahead, db, reading, source)
            except RefusedFile as fault:
                receipt.refused.append(fault)
            else:
                storing.store(source, read, _conditions(settings, mapping, source))
    receipt.fix_sheets, too_many = to_fix.write(db, clinic, settings.display.decimal)
    receipt.warnings += too_many
    receipt.warnings += monitor_offsets(db)
    progress.finish()
    return receipt


def _finished(ahead, db, reading: Reading, source: sources.Source) -> Read:
    try:
        return ahead.result()
    except NotYet:
        return reading.read(db, source, lambda cases: _starts(db, cases))


def _starts(db, cases: list[str]) -> dict:
    """Case id -> local start of the case, of those that are loaded."""
    found = db.execute(
        """SELECT case_id, coalesce(induction_at, intubation_at, vaporizer_on_at, premed_at) AS start FROM cases
           WHERE case_id IN (SELECT unnest(?)) AND start IS NOT NULL""",
        [cases],
    )
    return dict(found.fetchall())


def _conditions(settings: Settings, mapping, source: sources.Source) -> str:
    """A mark of what besides its bytes decides how a file reads: its part of mapping.toml, the zone, privacy."""
    kinds = [] if source.mended else mapping.kinds(source.path)
    parts = (kinds, replace(mapping, file=[]), settings.zone, settings.privacy.patient_ids)
    return hashlib.sha256(repr(parts).encode("utf-8")).hexdigest()[:12]


class _Storing:
    """Stores what was read, some files a transaction; whatever goes wrong leaves those of it out together."""

    def __init__(self, db, receipt: Receipt):
        self.db, self.receipt, self.bytes = db, receipt, None
        self.stored: set[str] = set()

    def __enter__(self) -> "_Storing":
        (self.file_id,) = self.db.execute("SELECT coalesce(max(file_id), 0) FROM files").fetchall()[0]
        return self

    def __exit__(self, kind, fault, trace) -> None:
        if self.bytes is not None:
            self.db.execute("ROLLBACK" if kind else "COMMIT")

    def store(self, source: sources.Source, read: Read, conditions: str) -> None:
        if read.ready is None or read.digest in self.stored:
            self.receipt.files += _known(self.db, source, read.digest, conditions)
            return
        if self.bytes is None:
            self.db.execute("BEGIN TRANSACTION")
            self.bytes = 0
        self.receipt.files += [self._store(source, read.digest, ready) for ready in read.ready]
        if any(ready.table == "cases" for ready in read.ready):
            self.receipt.released += orphans.release(self.db)
        self.stored.add(read.digest)
        self.bytes += source.path.stat().st_size
        if self.bytes >= AT_ONCE:
            self.db.execute("COMMIT")
            self.bytes = None

    def _store(self, source: sources.Source, digest: str, ready: Ready) -> FileAccount:
        db, grid, typed, incoming = self.db, ready.grid, ready.typed, ready.incoming
        self.file_id += 1
        file_id = self.file_id
        orphans.set_apart(db, incoming, file_id)
        mask = merging.against_loaded(db, incoming, file_id)
        merging.insert(db, incoming, mask, file_id)
        quarantine.write(db, incoming, typed, grid, file_id, source.name)
        flags.write(db, incoming, typed, grid, file_id, source.name)
        mending.clear(db, incoming, grid, file_id)
        account = accounts.settle(source, ready.table, grid, typed, incoming)
        books.write_notes(db, file_id, source.name, account.notes)
        accounts.write(db, source, digest, file_id, grid, account)
        return account


def _known(db, source: sources.Source, digest: str, conditions: str) -> list[FileAccount]:
    """The accounts of a file whose content was loaded before."""
    earlier = db.execute(
        "SELECT name, part, table_name, rows_read, lines, facts FROM files WHERE sha256 = ? ORDER BY part",
        [digest],
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
