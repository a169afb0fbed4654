"""The words clinics use for columns and units: rows of sql/seeds/words_*.csv, read once."""

import re
import unicodedata
from decimal import Decimal
from difflib import get_close_matches
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from pipeline import schema
from pipeline.intake import words as cell_words

UNSEEN = dict.fromkeys(map(ord, "\ufeff\u200b\u200c\u200d\u2060\u00ad"))


class Unit(NamedTuple):
    """A unit as spelled, and how to reach ours: (value + add_first) x factor."""

    spelling: str
    ours: str
    ucum: str
    factor: Fraction
    add_first: Fraction

    @property
    def is_ours(self) -> bool:
        return self.factor == 1 and not self.add_first


def tidy(text: str) -> str:
    """Text without what cannot be seen: byte-order marks, zero-width signs, odd and doubled spaces.

    >>> tidy("\\ufeffCase\\u00a0 ID ")
    'Case ID'
    """
    if not (text.isascii() and text.isprintable()):
        text = unicodedata.normalize("NFKC", text.translate(UNSEEN))
    return " ".join(text.split())


def fold(text: str) -> str:
    """A word as it is compared: no case, accents or doubled spaces.

    >>> fold(" Hündin "), fold("M/K")
    ('hundin', 'm/k')
    """
    tidied = tidy(text).casefold()
    if tidied.isascii():
        return tidied
    plain = unicodedata.normalize("NFKD", tidied)
    return "".join(sign for sign in plain if not unicodedata.combining(sign))


def fold_header(text: str) -> str:
    """A header as it is compared: letters and digits only.

    >>> fold_header("Körper-Gewicht"), fold_header("SpO₂")
    ('korper gewicht', 'spo2')
    """
    return re.sub(r"[^0-9a-z]+", " ", fold(text)).strip()


@cache
def headers() -> dict[str, tuple[tuple[str, str], ...]]:
    """Folded header -> the (table, column) it may mean; table 'reading' is a wide column of vitals,
    table 'personal' a column that is not loaded."""
    found: dict[str, dict] = {}
    for table in schema.TABLES.values():
        for column in table.columns:
            found.setdefault(fold_header(column.name), {})[table.name, column.name] = None
    for parameter in schema.PARAMETERS:
        found.setdefault(fold_header(parameter), {})["reading", parameter] = None
    with_case = [table.name for table in schema.TABLES.values() if any(one.name == "case_id" for one in table.columns)]
    for row in cell_words.rows("words_headers"):
        tables = with_case if row["column_name"] == "case_id" else [row["table_name"]]
        for table in tables:
            found.setdefault(fold_header(row["word"]), {})[table, row["column_name"]] = None
    return {word: tuple(meanings) for word, meanings in found.items()}


@cache
def units() -> dict[str, dict[str, Unit]]:
    """Our unit -> spelling (exact, case counts) -> Unit."""
    found: dict[str, dict[str, Unit]] = {}
    for row in cell_words.rows("words_units"):
        top, _, bottom = row["factor"].partition("/")
        factor = Fraction(top) / Fraction(bottom or "1")
        unit = Unit(row["spelling"], row["unit"], row["ucum"], factor, Fraction(row["add_first"]))
        found.setdefault(row["unit"], {})[row["spelling"]] = unit
    return found


@cache
def spellings() -> frozenset[str]:
    """Every spelling of every unit."""
    return frozenset(spelling for known in units().values() for spelling in known)


@cache
def evidence(name: str) -> Decimal:
    """A bound that tells one reading of a bare number from another (sql/seeds/words_evidence.csv)."""
    return next(Decimal(row["val"]) for row in cell_words.rows("words_evidence") if row["name"] == name)


def unit_of(ours: str, spelling: str) -> Unit | None:
    """The unit spelled so, if it can be brought to ours.

    >>> unit_of("kg", "lb").factor, unit_of("kg", "stone")
    (Fraction(45359237, 100000000), None)
    """
    known = units().get(ours, {})
    return known.get(spelling.strip()) or known.get(spelling.strip().strip("[]()").strip())


@cache
def of_kind(kind: str) -> dict[str, str]:
    """Folded word -> code, for one kind of word, the codes of a column of that name among them."""
    found: dict[str, str] = {}
    for table in schema.TABLES.values():
        for column in table.columns:
            if column.name == kind:
                found |= {fold(code.replace("_", " ")): code for code in column.codes}
                found |= {fold(code): code for code in column.codes}
    for word, code in cell_words.of_kind(kind).items():
        found.setdefault(fold(word), code)
    return found


def code_of(kind: str, text: str, own: dict[str, str] | None = None) -> str | None:
    """Our code for a word of this kind, by the clinic's own list first; None if no list has it.

    A word is tried as it stands, then without its points and spaces: 'i. v.' is 'iv'.

    >>> code_of("species", "K9"), code_of("route", "i. v."), code_of("species", "dragon")
    ('dog', 'iv', None)
    """
    word, known = fold(text), of_kind(kind)
    return (own or {}).get(word) or known.get(word) or known.get(re.sub(r"[.\s]", "", word))


def is_missing(text: str) -> bool:
    """Whether a cell says in words that nothing is known.

    >>> is_missing(" - "), is_missing("k.A."), is_missing("0")
    (True, True, False)
    """
    word = tidy(text).casefold()
    return not word or word in cell_words.missing()


def nearest(kind: str, text: str) -> str:
    """The code of the known word most like this one, '' if none is; to be suggested, never applied.

    >>> nearest("severity", "moderatete"), nearest("species", "xyz")
    ('moderate', '')
    """
    known = of_kind(kind)
    near = get_close_matches(fold(text), known, 1, 0.7)
    return known[near[0]] if near else ""
