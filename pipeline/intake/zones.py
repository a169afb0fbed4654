"""Local wall time to UTC seconds in the clinic's zone, columnar, with the nights of a clock change told apart."""

from functools import cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

DAY = 86_400
# Clock changes are looked up for times from 1970 to 2100 [UTC seconds].
FIRST, LAST = 0, 4_102_444_800
# No zone changed its clocks twice within six days in that time.
STEP = 5 * DAY


class Change(NamedTuple):
    """A change of the clocks: when [UTC s], and the offset from UTC before and after [s]."""

    at: int
    before: int
    after: int


@cache
def changes(zone: str) -> tuple[int, tuple[Change, ...]]:
    """(offset at the start, changes in order) of an IANA zone."""
    from datetime import datetime

    place = ZoneInfo(zone)

    def offset(second: int) -> int:
        return int(datetime.fromtimestamp(second, place).utcoffset().total_seconds())

    first = before = offset(FIRST)
    found = []
    for start in range(FIRST, LAST, STEP):
        after = offset(start + STEP)
        if after != before:
            low, high = start, start + STEP
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (middle, high) if offset(middle) == before else (low, middle)
            found.append(Change(high, before, after))
            before = after
    return first, tuple(found)


@cache
def _edges(zone: str) -> tuple[np.ndarray, np.ndarray]:
    """Local seconds at which the offset changes, and the offset of each stretch between them."""
    first, found = changes(zone)
    # An hour that stands twice belongs to the first; one that does not exist keeps the offset before it.
    edges = [change.at + max(change.before, change.after) for change in found]
    return np.array(edges, np.int64), np.array([first, *(change.after for change in found)], np.int64)


def to_utc(local: np.ndarray, zone: str) -> np.ndarray:
    """UTC seconds of local seconds; a time that stands twice is taken as the first of the two."""
    edges, offsets = _edges(zone)
    if not len(local):
        return local
    first, last = np.searchsorted(edges, (local.min(), local.max()), "right")
    if first == last:
        return local - offsets[first]
    return local - offsets[first:][np.searchsorted(edges[first:last], local, "right")]


def to_local(utc: np.ndarray, zone: str) -> np.ndarray:
    """Local seconds of UTC seconds."""
    first, found = changes(zone)
    at = np.array([change.at for change in found], np.int64)
    offsets = np.array([first, *(change.after for change in found)], np.int64)
    return utc + offsets[np.searchsorted(at, utc, "right")]


def doubtful(local: np.ndarray, zone: str) -> tuple[np.ndarray, np.ndarray]:
    """(positions that stand twice, positions that do not exist) of local seconds."""
    twice, never = [], []
    if len(local):
        low, high = local.min(), local.max()
        for change in changes(zone)[1]:
            start, end = sorted((change.at + change.before, change.at + change.after))
            if end <= low or start > high:
                continue
            hit = np.flatnonzero((local >= start) & (local < end))
            (never if change.after > change.before else twice).append(hit)
    empty = np.array([], np.int64)
    return (np.concatenate(twice) if twice else empty, np.concatenate(never) if never else empty)


def repeat_length(local: np.ndarray, zone: str) -> np.ndarray:
    """For local seconds that stand twice: how much later the second is [s]."""
    length = np.zeros(len(local), np.int64)
    for change in changes(zone)[1]:
        start, end = change.at + change.after, change.at + change.before
        if start < end:
            length[(local >= start) & (local < end)] = end - start
    return length
