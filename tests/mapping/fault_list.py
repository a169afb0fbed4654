"""The faults of real exports: one entry a fault, each with the class it must get and a fixture that shows it.

Classes: A accepted and converted, N accepted with a note, W taken as unknown or flagged, Q quarantined, S stopped.
A fault that intake leaves to others, whole or in part, names the model or check that has it; what intake does with
it, which may be to load the rows as charted, is what its fixture shows.
"""

from collections.abc import Callable
from typing import NamedTuple

IDS = tuple(
    f"{letter}{number}"
    for letter, last in (("F", 21), ("N", 9), ("P", 22), ("T", 17), ("V", 18), ("D", 13), ("E", 11))
    for number in range(1, last + 1)
)


class Fault(NamedTuple):
    """number: F1, ...; grade: the classes it asks for; what: in words; shown: the fixture; place: '' or where else."""

    number: str
    grade: str
    what: str
    shown: Callable
    place: str = ""


FAULTS: dict[str, Fault] = {}


def fault(number: str, grade: str, what: str, place: str = ""):
    """Registers a fixture: a function of the bench (see test_faults) that spoils the clean month and asserts."""

    def register(shown: Callable) -> Callable:
        assert number not in FAULTS, f"{number} stands twice"
        FAULTS[number] = Fault(number, grade, what, shown, place)
        return shown

    return register
