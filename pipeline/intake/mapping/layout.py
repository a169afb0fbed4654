"""Where a sheet's column names stand: under titles, on one line or two, with a line of units below."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from pipeline.intake.mapping import words

# Column names are looked for in so many lines.
LINES = 30
JOINT = " > "
Cells = Sequence[str | None]


@dataclass(frozen=True)
class Header:
    """first, last: the lines the names stand on, from 0; names: one a column, each once, '' where a
    column has none; units: name -> unit, from a line of units at units_line (or None)."""

    first: int
    last: int
    names: list[str]
    units: dict[str, str] = field(default_factory=dict)
    units_line: int | None = None

    @property
    def body(self) -> int:
        """The line the records begin on, from 0."""
        return self.last + (2 if self.units_line is not None else 1)


def find(
    rows: Sequence[Cells], is_known: Callable[[str], bool], lines: int = 1, merged: Sequence = (), row: int = 0
) -> tuple[Header, int] | None:
    """The header among the first rows with the most known names, and how many it has; None if none is known.

    lines: 1 or 2, how many the names take; merged: ((row, column), (row, column)) of merged cells, from 0;
    row: the line the names end on (from 1), where somebody has said so.
    """
    best, known = None, 0
    for number in range(lines - 1, min(LINES, len(rows))) if not row else (row - 1,):
        names = tidied(rows[number])
        if lines == 2:
            names = joined(tidied(rows[number - 1]), names, spans(merged, number - 1))
        count = sum(is_known(name) for name in dict.fromkeys(names) if name)
        if count > known:
            best, known = number, count
            best_names = names
    if best is None:
        return None
    return _with_units(rows, best - lines + 1, best, once_each(best_names)), known


def _with_units(rows: Sequence[Cells], first: int, last: int, names: list[str]) -> Header:
    below = tidied(rows[last + 1]) if last + 1 < len(rows) else []
    units = {name: unit for name, cell in zip(names, below, strict=False) if name and (unit := as_unit(cell))}
    if units and len(units) == sum(bool(cell) for cell in below):
        return Header(first, last, names, units, last + 1)
    return Header(first, last, names)


def as_unit(cell: str) -> str:
    """The unit a cell of a line of units names, '' if it is none.

    >>> as_unit("[kg]"), as_unit("(°C)"), as_unit("12")
    ('kg', '°C', '')
    """
    bare = cell.strip("[]() ")
    for spelling in (cell, bare):
        if spelling in words.spellings() and not spelling.isdigit():
            return spelling
    return ""


def tidied(row: Cells) -> list[str]:
    return [words.tidy(str(cell)) if cell is not None else "" for cell in row]


def once_each(names: Sequence[str]) -> list[str]:
    """Names made unlike: a second Temp becomes 'Temp (2)'.

    >>> once_each(["Temp", "HR", "Temp"])
    ['Temp', 'HR', 'Temp (2)']
    """
    seen: dict[str, int] = {}
    unlike = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        unlike.append(name if seen[name] == 1 or not name else f"{name} ({seen[name]})")
    return unlike


def spans(merged: Sequence, row: int) -> list[tuple[int, int]] | None:
    """(first, last) columns of the cells merged on this row; None where nothing is known of merging."""
    if not merged:
        return None
    return [(start[1], end[1]) for start, end in merged if start[0] <= row <= end[0]]


def joined(parents: Sequence[str], children: Sequence[str], merged: list[tuple[int, int]] | None = None) -> list[str]:
    """Two lines of names made one: a parent stands for the columns its cell is merged over, or, where
    nothing is known of merging, for the columns to its right until the next parent.

    >>> joined(["", "Vitals", "", "Notes"], ["Case", "HR", "SpO2", ""])
    ['Case', 'Vitals > HR', 'Vitals > SpO2', 'Notes']
    """
    width = max(len(parents), len(children))
    parents = [*parents, *[""] * (width - len(parents))]
    children = [*children, *[""] * (width - len(children))]
    filled = list(parents)
    for column, parent in enumerate(parents):
        if not parent:
            continue
        last = next((end for start, end in merged or () if start <= column <= end), column)
        if merged is None:
            last = next((other for other in range(column + 1, width) if parents[other]), width) - 1
        for other in range(column, last + 1):
            filled[other] = parent
    return [JOINT.join(dict.fromkeys(filter(None, pair))) for pair in zip(filled, children, strict=True)]


def takes_two(rows: Sequence[Cells], number: int, merged: Sequence = ()) -> bool:
    """Whether the line above a header line is a line of parents, by merged cells or by its gaps.

    A title is none: it stands alone, or begins in the first column over a name of its own.
    """
    if number == 0:
        return False
    above, names = tidied(rows[number - 1]), tidied(rows[number])
    if any(last > first for first, last in spans(merged, number - 1) or ()):
        covered = [column for first, last in spans(merged, number - 1) for column in range(first, last + 1)]
        return sum(bool(names[column]) for column in covered if column < len(names)) > 1 and len(covered) < len(names)
    parents = [column for column, cell in enumerate(above) if cell]
    if not parents or (above[0] and names[0]) or len(parents) >= sum(map(bool, names)):
        return False
    repeated = len(set(filter(None, names))) < sum(map(bool, names))
    nameless = any(not name and cell for name, cell in zip(names, above, strict=False))
    words_only = all(not re.search(r"\d", above[column]) and len(above[column].split()) <= 3 for column in parents)
    return repeated or nameless or words_only


UNIT_BEHIND = re.compile(
    r"^(?P<name>.*?\S)\s*(?:[\[(]\s*(?P<unit>[^\])]+?)\s*[\])]|\bin\s+(?P<bare>\S+))\s*(?P<rest>.*)$"
)
# Units that may stand bare behind a name; other words of small letters there are words.
PLAIN_UNITS = ("kg", "lb", "lbs", "ml", "mm", "cm", "bpm", "rpm", "mcg", "mmhg", "kpa")


def unit_in(name: str) -> tuple[str, str]:
    """(name, unit) of a header with its unit in brackets or behind 'in', unit '' if there is none.

    >>> unit_in("Gewicht / Weight (kg)"), unit_in("Temp [°F]"), unit_in("Time (local)"), unit_in("EtCO2 mmHg")
    (('Gewicht / Weight', 'kg'), ('Temp', '°F'), ('Time (local)', ''), ('EtCO2', 'mmHg'))
    >>> unit_in("Verdampfer an")
    ('Verdampfer an', '')
    """
    found = UNIT_BEHIND.match(name)
    if found:
        unit = found["unit"] or found["bare"]
        if as_unit(unit):
            return words.tidy(f"{found['name']} {found['rest']}"), as_unit(unit)
    head, _, last = name.rpartition(" ")
    if head and as_unit(last) and (last in PLAIN_UNITS or not last.isalpha() or not last.islower()) and len(last) > 1:
        return head.strip(" ,"), as_unit(last)
    return name, ""
