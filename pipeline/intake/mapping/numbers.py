"""Numbers as clinics write them: decimal signs, units in the cell, signs of a limit; exact until the last step.

Conversions are rounded half up once, here: 0.1 mmHg, 0.01 °C, 0.001 kg, others to six decimals.
"""

import re
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from pipeline import schema
from pipeline.intake.mapping import words

BODY = r"[-+]?(?:\d[\d.,'’ ]*\d|\d|[.,]\d+)(?:[eE][-+]?\d{1,3})?"
# A number that reads one way only, whatever the file's decimal sign, unless its three decimals may be thousands.
BARE = re.compile(r"-?[0-9]+(\.[0-9]+)?")
NUMBER = re.compile(rf"^(?P<sign>[<>≤≥~≈]=?|ca\.?)?\s*(?P<body>{BODY})\s*(?P<unit>[^\d\s.,<>=+'-][^<>]*|1/min)?$")
RANGE = re.compile(r"^\d+(?:[.,]\d+)?\s*(?:-|–|—|bis|to|à)\s*\d+(?:[.,]\d+)?\s*\D*$")
PRESSURES = re.compile(r"^(\d{1,3})\s*/\s*(\d{1,3})(?:\s*(?:/|-|\(|\[)\s*(\d{1,3})\s*[)\]]?)?\s*(\D*)$")
# What spreadsheets show instead of a result.
ERRORS = re.compile(r"^(#(DIV/0!|N/A|NAME\?|NULL!|NUM!|REF!|VALUE!|SPILL!|CALC!)|=.+)$", re.IGNORECASE)
OTHER_DECIMALS = 6


class Number(NamedTuple):
    """value as written, unit as spelled behind it or '', sign '<', '>' or '~' or ''."""

    value: Decimal
    unit: str
    sign: str


class Decision(NamedTuple):
    """What the evidence of a column says, and the sentence that says why. choice None: it says nothing."""

    choice: str | None
    why: str
    contradicted: bool = False


def decimal_sign(texts: Iterable[str]) -> Decision:
    """The decimal sign of a file's numbers, '.' or ',', from all of its number cells.

    choice is None only where a number such as 1,234 could be read two ways and no other cell decides.

    >>> decimal_sign(["4,5", "12"]).choice, decimal_sign(["1,234"]).choice, decimal_sign(["4.5", "12"]).choice
    (',', None, '.')
    """
    point, comma, unclear = [], [], []
    for text in texts:
        body = _body(text)
        if body is None:
            continue
        dots, commas = body.count("."), body.count(",")
        if dots and commas:
            (point if body.rfind(".") > body.rfind(",") else comma).append(body)
        elif commas > 1 or dots > 1:
            (comma if dots else point).append(body)
        elif commas:
            whole, _, part = body.partition(",")
            undecided = len(part) == 3 and 1 <= len(whole.lstrip("-+")) <= 3 and whole.lstrip("-+") != "0"
            (unclear if undecided else comma).append(body)
        elif dots:
            whole, _, part = body.partition(".")
            if not (len(part) == 3 and 1 <= len(whole.lstrip("-+")) <= 3 and whole.lstrip("-+") != "0"):
                point.append(body)
    if comma and not point:
        return Decision(",", f"{comma[0]} can only have a decimal comma")
    if point and not comma:
        return Decision(".", f"{point[0]} can only have a decimal point")
    if point and comma:
        return Decision(None if unclear else ".", f"both {point[0]} and {comma[0]} stand in it", contradicted=True)
    if unclear:
        return Decision(None, f"{unclear[0]} may be a number with a decimal comma or with a thousands mark")
    return Decision(".", "no number in it has a comma")


def _body(text: str) -> str | None:
    found = NUMBER.match(words.tidy(text).replace("−", "-"))
    return re.sub(r"['’ ]|[eE].*", "", found["body"]) if found else None


@lru_cache(maxsize=1 << 16)
def parse(text: str, decimal: str = ".") -> Number | None:
    """A cell as a number; None if it is not one. decimal: the file's decimal sign, '.' or ','.

    >>> parse("4,2 kg", ","), parse("1'200"), parse("<34"), parse("36.8-35.9")
    (Number(value=Decimal('4.2'), unit='kg', sign=''), Number(value=Decimal('1200'), unit='', sign=''), Number(value=Decimal('34'), unit='', sign='<'), None)
    """  # noqa: E501
    tidied = words.tidy(text).replace("−", "-")
    if RANGE.match(tidied):
        return None
    found = NUMBER.match(tidied)
    if not found:
        return None
    body = re.sub(r"['’ ]", "", found["body"])
    other = "," if decimal == "." else "."
    if other in body and not _is_thousands(body, other, decimal):
        if body.count(other) > 1 or decimal in body:
            return None
        body = body.replace(other, ".")
    else:
        body = body.replace(other, "").replace(decimal, ".")
    if body.count(".") > 1:
        return None
    sign = {"<": "<", "≤": "<", ">": ">", "≥": ">"}.get((found["sign"] or "")[:1], "~" if found["sign"] else "")
    return Number(Decimal(body), (found["unit"] or "").strip(), sign)


def _is_thousands(body: str, mark: str, decimal: str) -> bool:
    """Whether every mark stands before a group of three, as thousands do."""
    whole = body.partition(decimal)[0].lstrip("-+")
    return re.fullmatch(rf"[1-9]\d{{0,2}}(?:{re.escape(mark)}\d{{3}})+", whole) is not None


def convert(value: Decimal, unit: words.Unit) -> Decimal:
    """A value in that unit brought to ours, rounded half up; unchanged if it is ours already.

    >>> convert(Decimal("98.6"), words.unit_of("°C", "°F")), convert(Decimal("5.1"), words.unit_of("mmHg", "kPa"))
    (Decimal('37.00'), Decimal('38.3'))
    """
    if unit.factor == 1 and not unit.add_first:
        return value
    exact = (Fraction(value) + unit.add_first) * unit.factor
    places = schema.CONVERTED_DECIMALS.get(unit.ours, OTHER_DECIMALS)
    return half_up(exact, places)


def half_up(exact: Fraction, places: int) -> Decimal:
    """An exact value rounded half up (away from zero) to so many decimals."""
    scaled = abs(exact) * 10**places + Fraction(1, 2)
    whole = scaled.numerator // scaled.denominator
    return Decimal(whole if exact >= 0 else -whole).scaleb(-places)


def plain(value: Decimal) -> str:
    """A number without exponent or trailing zeros.

    >>> plain(Decimal("37.00")), plain(Decimal("1E+2"))
    ('37', '100')
    """
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def is_error(text: str) -> bool:
    """Whether a cell shows a spreadsheet's error or a formula instead of a value."""
    return ERRORS.match(text.strip()) is not None


def pressures(text: str) -> tuple[str, str, str | None, str] | None:
    """Systolic, diastolic, mean or None, and the unit behind, of a cell such as 120/80 (93).

    >>> pressures("120/80 (93)"), pressures("110/60"), pressures("85")
    (('120', '80', '93', ''), ('110', '60', None, ''), None)
    """
    found = PRESSURES.match(words.tidy(text))
    return (found[1], found[2], found[3], found[4].strip()) if found else None
