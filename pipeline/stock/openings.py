"""Packs opened and leftovers thrown away, from use by day and how long an opened pack may be kept."""

from typing import NamedTuple


class Opened(NamedTuple):
    """packs: opened that day; discarded: leftover thrown away that day [unit of the pack]."""

    packs: int
    discarded: float


def openings(use: dict[int, float], pack: float, open_days: float) -> dict[int, Opened]:
    """What each day opens and throws away.

    Parameters
    ----------
    use : quantity needed a day, by day number [unit of the pack]; days without use left out
    pack : content of a pack, above 0
    open_days : days an opened pack may be used, the day of opening the first [d], at least 1

    Returns
    -------
    Days on which a pack was opened or thrown away. Packs opened x pack = use + thrown away + what is
    still open after the last day, always.

    Examples
    --------
    A 20 mL vial kept for the day only: 12 mL then 3 mL the next day opens two, throws away 8 mL.

    >>> openings({1: 12.0, 2: 3.0}, pack=20, open_days=1)
    {1: Opened(packs=1, discarded=0.0), 2: Opened(packs=1, discarded=8.0)}
    """
    days: dict[int, Opened] = {}
    left, since = 0.0, 0
    for day in sorted(use):
        thrown = 0.0
        if left > 1e-9 and day - since >= open_days:
            thrown, left = left, 0.0
        need = use[day] - left
        packs = 0
        if need > 1e-9:
            packs = -int(-(need - 1e-9) // pack)
            since = day
        left = max(0.0, left + packs * pack - use[day])
        if packs or thrown:
            days[day] = Opened(packs, thrown)
    return days
