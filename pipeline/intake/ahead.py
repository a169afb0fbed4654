"""Files read in threads while those before them are stored: DuckDB, numpy and Arrow let go of the interpreter.

What reading gives is the same as without threads; a file that needs what is stored (the day of a case, for clocks
without one) is read when its turn has come.
"""

from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, replace
from queue import SimpleQueue
from threading import Lock

from pipeline import schema
from pipeline.database import settle
from pipeline.intake import case_rules, contents, headers, identity, keys, mending, readers
from pipeline.intake.assembling import assemble
from pipeline.intake.cells import TypedGrid, type_grid
from pipeline.intake.encodings import sha256
from pipeline.intake.grid import Grid
from pipeline.intake.incoming import Incoming
from pipeline.intake.sources import Source
from pipeline.models.seeds import plausibility

WORKERS = 2
# Files read and not yet stored hold no more than this together, or there is one of them [bytes on disk].
IN_MEMORY = 128 << 20


@dataclass
class Ready:
    """A table of a file, typed, its rows ready to be stored."""

    table: str
    grid: Grid
    typed: TypedGrid
    incoming: Incoming


@dataclass
class Read:
    """A file with its hash; ready is None where a file of these bytes was stored before this load."""

    digest: str
    ready: list[Ready] | None


class NotYet(Exception):
    """A file asks for cases that may not be stored yet."""


class Reading:
    """Reads files. known: sizes and hashes of the files stored before; conditions: what else decides how one reads."""

    def __init__(self, db, settings, clinic, mapping, known: dict[int, set[str]], conditions: Callable):
        self.db, self.settings, self.clinic, self.mapping = db, settings, clinic, mapping
        self.known, self.conditions, self.bounds = known, conditions, plausibility(settings)
        self.cursors: SimpleQueue = SimpleQueue()
        self.one_makes_the_key = Lock()

    def ahead(self, sources: list[Source]) -> Iterator[tuple[Source, Future]]:
        """Each file with its reading, begun before the files ahead of it are stored."""
        waiting, left, size = deque(), deque(sources), 0
        with ExitStack() as opened, ThreadPoolExecutor(WORKERS) as pool:
            for _ in range(WORKERS):
                cursor = opened.enter_context(self.db.cursor())
                settle(cursor)
                self.cursors.put(cursor)
            while waiting or left:
                while left and (not waiting or size + _size(left[0]) <= IN_MEMORY):
                    source = left.popleft()
                    size += _size(source)
                    waiting.append((source, pool.submit(self._ahead, source)))
                source, reading = waiting.popleft()
                yield source, reading
                size -= _size(source)

    def _ahead(self, source: Source) -> Read:
        def not_yet(cases):
            raise NotYet

        db = self.cursors.get()
        try:
            return self.read(db, source, not_yet)
        finally:
            self.cursors.put(db)

    def read(self, db, source: Source, starts) -> Read:
        """A file's tables. Raises RefusedFile."""
        if not source.path.is_dir():
            contents.head_of(source.path, 1)  # a file nobody can open is refused before it is read
        mapping = replace(self.mapping, file=[]) if source.mended else self.mapping
        with ThreadPoolExecutor(1) as pool:
            # Hashed beside the reading, unless a file of this size is known and may be the same.
            digest = pool.submit(sha256, source.path) if source.path.is_file() else None
            hashes = self.known.get(_size(source), ())
            if digest and hashes and digest.result() in hashes:
                return Read(digest.result(), None)
            grids = readers.read(source.path, mapping, starts)
            grids.sort(key=lambda pair: list(schema.TABLES).index(pair[0]))
            conditions = self.conditions(source)
            ready = [self._ready(db, table, grid, conditions) for table, grid in grids]
            return Read(digest.result(), ready)

    def _ready(self, db, table: str, grid: Grid, conditions: str) -> Ready:
        grid.facts["read_under"] = conditions
        hide, mended = None, headers.is_mending(grid.header)
        if mended:
            mending.undo_defusing(grid)
        if self.settings.privacy.patient_ids == "hash" and "patient_id" in grid.header:
            with self.one_makes_the_key:
                key = identity.key_of(self.clinic)

            def hide(patient):
                # A sheet of ours for mending carries pseudonyms already.
                return patient if mended and identity.PSEUDONYM.fullmatch(patient) else identity.pseudonym(key, patient)

        typed = type_grid(db, table, grid, self.settings.zone, hide)
        case_rules.apply(typed, grid, self.bounds)
        incoming = assemble(typed, grid)
        keys.within_file(incoming)
        if typed.order:
            grid.facts["dates"] = typed.order
        return Ready(table, grid, typed, incoming)


def _size(source: Source) -> int:
    return source.path.stat().st_size if source.path.is_file() else 0
