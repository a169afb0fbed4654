"""How numbers, units, dates and codes read on a page. Stored values never change; only what is shown does."""

from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal

MONTHS = ("January", "February", "March", "April", "May", "June", "July",
          "August", "September", "October", "November", "December")  # fmt: skip
NARROW_SPACE = "\u202f"
DASH = "\u2013"
MINUS = "\u2212"

# Codes whose plain words are not just the code with spaces.
WORDS = {
    "asa_class": "ASA class",
    "etco2": "end-tidal CO\u2082",
    "fico2": "inspired CO\u2082",
    "no_co2": "no CO\u2082 read",
    "spo2": "SpO\u2082",
    "map": "mean pressure",
    "sap": "systolic pressure",
    "dap": "diastolic pressure",
    "o2_flow": "oxygen flow",
    "n2o_flow": "nitrous oxide flow",
    "agent_et": "end-tidal agent",
    "agent_insp": "inspired agent",
    "death_48h": "death within 48 h",
    "euthanasia_48h": "euthanasia within 48 h",
    "euthanised": "euthanized",
    "hypothermia_any": "any hypothermia",
    "soft_tissue": "soft tissue",
    "tiva": "total intravenous anesthesia",
    "procedure_group": "procedure",
    "weight_band": "weight",
    "machine_id": "machine",
}


class Display:
    """The clinic's way of writing: [display] of clinic.toml."""

    def __init__(self, display):
        self.decimal = display.decimal
        self.dates = display.dates
        self.fahrenheit = display.temperature == "F"
        self.pounds = display.weight == "lb"
        self.temperature_unit = "°F" if self.fahrenheit else "°C"
        self.weight_unit = "lb" if self.pounds else "kg"

    def number(self, value, digits: int = 1) -> str:
        """A number rounded half up to that many decimals, grouped in thousands; '–' when unknown."""
        if value is None:
            return DASH
        text = f"{half_up(float(value), digits):,.{digits}f}".replace("-", MINUS)
        if self.decimal == ",":
            text = text.replace(",", NARROW_SPACE).replace(".", ",")
        return text

    def count(self, value) -> str:
        return self.number(value, 0)

    def share(self, value, digits: int = 1) -> str:
        """A share 0 to 1 in percent; one that is not 0 never reads as 0."""
        least = 10.0**-digits
        if value is not None and 0 < value * 100 < least / 2:
            return f"< {self.number(least, digits)}%"
        return DASH if value is None else f"{self.number(value * 100, digits)}%"

    def p(self, value) -> str:
        """A p value: never 0, never more digits than it deserves."""
        if value is None:
            return DASH
        return f"< {self.number(0.001, 3)}" if value < 0.001 else self.number(value, 3 if value < 0.1 else 2)

    def celsius(self, value):
        """A temperature in the unit shown; None stays None."""
        return value * 9 / 5 + 32 if self.fahrenheit and value is not None else value

    def kg(self, value):
        """A weight in the unit shown; None stays None."""
        return value / 0.45359237 if self.pounds and value is not None else value

    def temperature(self, value, digits: int = 1) -> str:
        return DASH if value is None else f"{self.number(self.celsius(value), digits)} {self.temperature_unit}"

    def weight(self, value) -> str:
        return DASH if value is None else f"{self.number(self.kg(value), 1)} {self.weight_unit}"

    def day(self, value: date | None) -> str:
        if value is None:
            return DASH
        if self.dates == "iso":
            return f"{value:%Y-%m-%d}"
        short = MONTHS[value.month - 1][:3]
        return f"{value.day} {short} {value.year}" if self.dates == "dmy" else f"{short} {value.day}, {value.year}"

    def moment(self, value: datetime | None) -> str:
        return DASH if value is None else f"{self.day(value)} {value:%H:%M}"


def half_up(value: float, digits: int) -> float | Decimal:
    """What formatting to so many digits rounds half up, as the number reads when written out.

    Formatting alone does so unless the number reads as a tie, and a number below 10^9 that does not lies on the same
    side of each tie as its digits do.

    >>> f"{2.675:.2f}", f"{half_up(2.675, 2):.2f}"
    ('2.67', '2.68')
    """
    if digits <= 3 and abs(value) < 1e9:
        read = repr(value)
        if read[-1] != "5" or len(read) - read.find(".") != digits + 2:
            return value
    return Decimal(repr(value)).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)


def month_text(month_no: int) -> str:
    """A month number (year x 12 + month - 1) as results writes it.

    >>> month_text(2026 * 12 + 9)
    '2026-10'
    """
    return f"{month_no // 12:04d}-{month_no % 12 + 1:02d}"


def month_number(text: str) -> int:
    """The month number of 'YYYY-MM'."""
    return int(text[:4]) * 12 + int(text[5:7]) - 1


def month_name(text: str, short: bool = False) -> str:
    """'2026-10' in words; anything else as it stands.

    >>> month_name("2026-10"), month_name("2026-10", short=True)
    ('October 2026', 'Oct 2026')
    """
    if len(text) != 7:
        return text
    name = MONTHS[int(text[5:7]) - 1]
    return f"{name[:3] if short else name} {text[:4]}"


def words(code) -> str:
    """A code in plain words.

    >>> words("procedure_group"), words("non_rebreathing")
    ('procedure', 'non rebreathing')
    """
    return WORDS.get(str(code), str(code).replace("_", " "))


def first_upper(text: str) -> str:
    """The text with a capital first letter, the rest as it is.

    >>> first_upper("end-tidal CO\u2082")
    'End-tidal CO\u2082'
    """
    return text[:1].upper() + text[1:]


def slug(text: str) -> str:
    """A text as part of an element's id."""
    return "".join(c if c.isalnum() and c.isascii() else "-" for c in text.lower())[:24]


def listing(parts: list[str]) -> str:
    """Words joined as a sentence joins them.

    >>> listing(["dogs", "cats", "rabbits"])
    'dogs, cats and rabbits'
    """
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)
