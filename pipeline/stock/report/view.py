"""What the sections of the stock report share: the rows, the words, what a shared copy withholds."""

from dataclasses import dataclass, field
from datetime import date

from pipeline.reporting.display import Display, month_name, words
from pipeline.reporting.frame import Cell
from pipeline.reporting.results import Results

YEAR = "12\u00a0months"


@dataclass(frozen=True, slots=True)
class View:
    """One stock report. results: numbers of the month reported; today: the day up to which records are loaded;
    share: the page leaves the clinic, so no case, no person and no small count is shown; files: names by id."""

    db: object
    settings: object
    display: Display
    results: Results
    today: date
    share: bool = False
    files: dict[int, str] = field(default_factory=dict)

    def rows(self, sql: str, **given) -> list[dict]:
        """Rows of a query as dicts; given: named parameters."""
        found = self.db.execute(sql, given or None)
        names = [column[0] for column in found.description]
        return [dict(zip(names, row, strict=True)) for row in found.fetchall()]

    def unknown(self, cases: float | None) -> str:
        """How many cases of the 12 months a computed use says nothing about, as a sentence."""
        if not cases:
            return "Known for every case of the 12 months."
        return f"Unknown in {self.display.count(cases)} {'case' if cases == 1 else 'cases'} of the 12 months."

    @property
    def month(self) -> str:
        """The month reported, in words."""
        return month_name(self.results.month)

    @property
    def short(self) -> str:
        """The month reported, for the heading of a column."""
        return month_name(self.results.month, short=True)

    def amount(self, value: float | None, unit: str | None) -> str:
        """A quantity with its unit."""
        return "unknown" if value is None else f"{self.figure(value)}\u00a0{unit_words(unit, value)}"

    def figure(self, value: float) -> str:
        """A quantity: two decimals under 10, one under 100, none above or where it is whole."""
        digits = 0 if float(value).is_integer() or abs(value) >= 100 else 1 if abs(value) >= 10 else 2
        return self.display.number(value, digits)

    def quantity(self, value: float | None) -> Cell | None:
        """A quantity as a cell of a number column."""
        return None if value is None else Cell(value, self.figure(value))

    def span(self, low: float, high: float) -> Cell:
        """A range of quantities as a cell of a range column."""
        return Cell((low, high), f"{self.figure(low)} to {self.figure(high)}")


def item_cell(item: str) -> Cell:
    """An item under its name in clinic.toml, shown in words."""
    return Cell(item, item_words(item))


def item_words(item: str) -> str:
    """
    >>> item_words("propofol_20ml") == "propofol 20\\u00a0mL"
    True
    """
    parts = words(item).split(" ")
    for ending, unit in (("ml", "mL"), ("g", "g"), ("l", "L")):
        number = parts[-1].removesuffix(ending)
        if number != parts[-1] and number.isdigit():
            parts[-1] = f"{number}\u00a0{unit}"
            break
    return " ".join(parts)


def unit_words(unit: str | None, quantity: float | None = None) -> str:
    """The unit of a quantity.

    >>> unit_words("piece"), unit_words("piece", 1), unit_words("mL", 3)
    ('pieces', 'piece', 'mL')
    """
    if quantity == 1 and unit:
        return unit
    return {"piece": "pieces", "pack": "packs", None: ""}.get(unit, unit)
