"""Which months set the limits, and which months are held against them."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

import numpy as np

from pipeline.errors import SettingsFault

FEWEST_MONTHS, BASELINE_MONTHS = 8, 12


@dataclass(frozen=True, slots=True)
class Change:
    """A change the clinic states in [changes]: its name, first day, and the measures it is about (none: all)."""

    name: str
    start: date
    measures: tuple[str, ...] = ()

    @property
    def first_month(self) -> str:
        """First month wholly after the change, 'YYYY-MM': its own month only where it begins on the 1st."""
        number = self.start.year * 12 + self.start.month - 1 + (self.start.day > 1)
        return f"{number // 12:04d}-{number % 12 + 1:02d}"

    def about(self, measure: str) -> bool:
        """Whether it starts a phase of a measure: named, or its family ('hypothermia' names 'hypothermia_any')."""
        return not self.measures or any(measure == one or measure.startswith(f"{one}_") for one in self.measures)


class Span(NamedTuple):
    """Months held against one baseline: positions among the complete months, both in order."""

    base: np.ndarray
    judged: np.ndarray


def stated_changes(table: dict) -> list[Change]:
    """The changes of clinic.toml's [changes], by date.

    table : name -> date, or name -> {from: date, measures: [...]}. A date may be text 'YYYY-MM-DD'.
    Raises SettingsFault naming the entry to mend.

    >>> stated_changes({"warming program": "2025-08-01"})[0].first_month
    '2025-08'
    """
    changes = []
    for name, given in table.items():
        entry = given if isinstance(given, dict) else {"from": given}
        start, measures = entry.get("from"), entry.get("measures", [])
        try:
            start = date.fromisoformat(start) if isinstance(start, str) else start
        except ValueError:
            start = None
        start = start.date() if isinstance(start, datetime) else start
        if not isinstance(start, date) or not isinstance(measures, list) or set(entry) - {"from", "measures"}:
            raise SettingsFault(
                where=f"clinic.toml, [changes], {name}",
                found=repr(given),
                wanted='a first day such as 2025-08-01, or { from = 2025-08-01, measures = ["hypothermia"] }',
                fix="write the day the change began",
            )
        changes.append(Change(str(name).replace("_", " "), start, tuple(str(one) for one in measures)))
    return sorted(changes, key=lambda change: (change.start, change.name))


def phase_of(months: list[str], changes: list[Change]) -> np.ndarray:
    """Number of stated changes that lie before or at the start of each month 'YYYY-MM'."""
    starts = np.array([change.first_month for change in changes], dtype="U7")
    return np.searchsorted(np.sort(starts), np.array(months, dtype="U7"), side="right")


def spans(phase: np.ndarray) -> list[Span]:
    """Baselines over complete months that have a value, given the phase of each.

    A phase of 8 to 11 months is its own baseline as a whole; from 12 its first 12 are, held until the next
    phase. A phase of fewer than 8 sets no limits: it is held against the baseline before it, so that a stated
    change shows from its first month, or against nothing where there is none.
    """
    found: list[Span] = []
    for number in np.unique(phase):
        own = np.flatnonzero(phase == number)
        if len(own) >= FEWEST_MONTHS:
            found.append(Span(own[:BASELINE_MONTHS], own))
        elif found:
            found[-1] = Span(found[-1].base, np.concatenate([found[-1].judged, own]))
    return found
