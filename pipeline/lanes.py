"""Statements side by side: DuckDB plans each in one thread, and many of ours are small."""

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from queue import SimpleQueue

from pipeline.database import settle

MANY = 2


class Here:
    """Every piece of work at once, in this thread and its open transaction."""

    shared = "TEMP {} {}"

    def __init__(self, db):
        self.db = db

    def submit(self, work: Callable, *given) -> Future:
        """work(connection, *given)."""
        done = Future()
        done.set_result(work(self.db, *given))
        return done


class Lanes:
    """Work on MANY connections, each piece begun in the order it was given, so that one may wait for those before it.
    shared: what stands after CREATE for a kind and name of what all may read and nobody needs later."""

    def __init__(self, pool: ThreadPoolExecutor, free: SimpleQueue, shared: str):
        self.pool, self.free, self.shared = pool, free, f"{{}} {shared}.{{}}"

    def submit(self, work: Callable, *given) -> Future:
        return self.pool.submit(self._on_a_connection, work, given)

    def _on_a_connection(self, work: Callable, given):
        db = self.free.get()
        try:
            return work(db, *given)
        finally:
            self.free.put(db)


@contextmanager
def lanes(db, shared: str) -> Iterator[Lanes]:
    """Needs what was written on db to be committed. shared: name of a database in memory for what is shared, as
    temporary tables are seen by their own connection alone; gone at the end."""
    (own,) = db.execute("SELECT current_database()").fetchone()
    db.execute(f"ATTACH ':memory:' AS {shared}")
    try:
        with ExitStack() as opened, ThreadPoolExecutor(MANY) as pool:
            free: SimpleQueue = SimpleQueue()
            for _ in range(MANY):
                cursor = opened.enter_context(db.cursor())
                settle(cursor)
                cursor.execute(f"SET search_path = '{own}.main,{shared}.main'")
                free.put(cursor)
            yield Lanes(pool, free, shared)
    finally:
        db.execute(f"DETACH {shared}")
