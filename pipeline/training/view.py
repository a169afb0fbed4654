"""What the pages of the training log share: the numbers, the words, and what a shared copy withholds."""

from dataclasses import dataclass, field
from datetime import date
from hashlib import sha256

from pipeline.reporting.display import Display, words
from pipeline.reporting.frame import Cell
from pipeline.reporting.results import FEWEST_SHOWN
from pipeline.training import log
from pipeline.training.programme import Programme, Target

ROLES = ("primary", "assisting", "observing", "supervising")
RULES_DECIDE = (
    "What counts towards a qualification is decided by the training body's own rules. The targets here are the ones "
    "written in this clinic's settings; nothing on this page was taken from a training body."
)
HIDDEN = Cell(None, f"fewer than {FEWEST_SHOWN}")


@dataclass(frozen=True, slots=True)
class View:
    """begins, until: days of the first and the last case loaded. share: the page leaves the clinic. asked_once: what
    own() has read."""

    db: object
    settings: object
    asked: Programme
    display: Display
    begins: date
    until: date
    share: bool = False
    asked_once: dict[str, dict[str, list[dict]]] = field(default_factory=dict)

    def own(self, person: str, sql: str, **values) -> list[dict]:
        """One person's rows of a query over everybody, which is asked once. It gives a column person."""
        if sql not in self.asked_once:
            by_person = self.asked_once.setdefault(sql, {})
            for row in log.select(self.db, sql, **values):
                by_person.setdefault(row["person"], []).append(row)
        return self.asked_once[sql].get(person, [])

    def counts(self, values: list) -> list:
        """Counts as cells; in a shared copy those below 5 withheld, and the next smallest where only one would be.

        >>> View(*[None] * 6, share=True).counts([12, 7, 3])[1:] == [HIDDEN, HIDDEN]
        True
        """
        if not self.share:
            return values
        small = {i for i, value in enumerate(values) if value is not None and value < FEWEST_SHOWN}
        others = sorted((value, i) for i, value in enumerate(values) if value is not None and i not in small)
        if len(small) == 1 and others:
            small.add(others[0][1])
        return [HIDDEN if i in small else value for i, value in enumerate(values)]

    def columns(self, rows: list[list], *places: int) -> list[list]:
        """The rows with the counts in those places as cells. A row whose first count is withheld shows none of
        its other counts."""
        if not self.share:
            return rows
        shown = {place: self.counts([row[place] for row in rows]) for place in places}
        out = []
        for number, row in enumerate(rows):
            hidden = shown[places[0]][number] is HIDDEN
            out.append(
                [HIDDEN if hidden and place in shown else shown[place][number] if place in shown else value
                 for place, value in enumerate(row)]
            )  # fmt: skip
        return out

    def day(self, value: date | None) -> str:
        return self.display.day(value)

    def amount(self, value: float, unit: str) -> str:
        """'12 cases' or '31.5 hours'."""
        number = self.display.number(value, 1 if unit == "hours" and value % 1 else 0)
        return f"{number} {unit[:-1] if value == 1 else unit}"


def level_words(by: str, level: str | None) -> str:
    """A level as a reader says it: 3 of asa_class is 'ASA 3', None is 'not recorded'."""
    if level is None:
        return "not recorded"
    if by == "asa_class":
        return f"ASA {level}"
    if by == "emergency":
        return "emergency" if level == "yes" else "not an emergency"
    return words(level)


def role_words(role: str | None) -> str:
    return role or "role not charted"


def criteria_words(target: Target) -> str:
    """What a target counts: 'cat; ASA 3, 4 or 5; as primary; year 2', 'any case' where it names nothing."""
    parts = []
    for name, values in target.criteria.items():
        if name == "asa_class":
            parts.append("ASA " + either([str(value) for value in values]))
        elif name == "emergency":
            parts.append(either(["emergencies" if value else "no emergencies" for value in values]))
        elif name == "supervised":
            parts.append(either(["supervised" if value else "not supervised" for value in values]))
        elif name != "role":
            parts.append(either([words(value) for value in values]))
    if "role" in target.criteria:
        parts.append("as " + either(list(target.criteria["role"])))
    if target.year:
        parts.append(f"year {target.year}")
    return "; ".join(parts) or "any case"


def either(parts: list[str]) -> str:
    """
    >>> either(["3", "4", "5"])
    '3, 4 or 5'
    """
    return " or ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def file_name(person: str) -> str:
    """The file name, without ending, of a person's page; a code that is no plain word gets a hash of itself.

    >>> file_name("R01"), file_name("R.Ash/2")
    ('log_R01', 'log_R-Ash-2-aec51c49')
    """
    plain = "".join(letter if letter.isascii() and letter.isalnum() or letter in "-_" else "-" for letter in person)
    distinct = "" if plain == person and len(plain) <= 40 else f"-{sha256(person.encode('utf-8')).hexdigest()[:8]}"
    return f"log_{plain[:40]}{distinct}"
