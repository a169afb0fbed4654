"""A second process for work that needs no open database, such as slow imports while the first one loads.

On one core, or where no process can be started, the same work is done at once, here.
"""

import gc
import os
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import contextmanager


class Here:
    """Does the work when it is handed over."""

    def submit(self, work: Callable, *given) -> Future:
        """work(*given), done; its result or its error is the future's."""
        done: Future = Future()
        try:
            done.set_result(work(*given))
        except Exception as fault:  # noqa: BLE001  the future hands it on to whoever asks for the result
            done.set_exception(fault)
        return done


@contextmanager
def beside():
    """Something with submit(work, *given) -> Future: a second process, or Here. work: a function of a module.

    For commands: the new process imports the program's main module again, so that must do nothing on import.
    """
    seldom_collect()
    if cores() < 2:
        yield Here()
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    try:
        pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"))
        pool.submit(ready)
    except OSError:
        yield Here()
        return
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def seldom_collect() -> None:
    """Makes Python look less often for circles among its objects: ours are rows, which form none, and looking through
    hundreds of thousands of them takes a tenth of a month's time."""
    gc.set_threshold(50_000, 20, 50)


def ready() -> None:
    """Imports what the work will ask for, in the order in which it will."""
    from multiprocessing.util import Finalize

    seldom_collect()
    Finalize(None, os._exit, (0,), exitpriority=0)  # clearing its modules away one by one takes most of a second
    from pipeline.checks import judge

    judge.ready()
    from pipeline.reporting import quality, summary  # noqa: F401
    from pipeline.statistics import false_signals, signals  # noqa: F401
    from pipeline.stock import pages  # noqa: F401
