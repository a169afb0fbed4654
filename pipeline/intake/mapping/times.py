"""Times as clinics write them, read by their shape; day and month order is decided for a column, never for a cell.

Cells come out as local wall time 'YYYY-MM-DD HH:MM:SS', with its offset behind where the file gives one
('+01:00', 'Z'); a day alone as 'YYYY-MM-DD', a clock alone as 'HH:MM:SS'. Parts of a second are dropped.
"""

import re
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import NamedTuple

from pipeline.intake.mapping import words
from pipeline.intake.mapping.numbers import Decision

HALF = r"(?P<half>[ap]\.?\s?m\.?)"
CLOCK = rf"(?P<h>\d{{1,2}})[:.h](?P<mi>\d{{2}})(?:[:.](?P<s>\d{{2}})(?:[.,]\d+)?)?\s*{HALF}?(?:\s*(?:Uhr|h))?"
ZONE = r"(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2})"
THEN = rf"(?:(?:\s*T\s*|[\s,]+(?:um |at |à |a las )?)(?:{CLOCK})\s*{ZONE}?)?"
YEAR = r"(?P<y>\d{4}|\d{2})"
WORD = r"(?P<word>[^\W\d]{3,})\.?"
SHAPES = {
    name: re.compile(rf"(?i:^{pattern}$)")
    for name, pattern in {
        "iso": rf"(?P<y>\d{{4}})[-/.](?P<m>\d{{1,2}})[-/.](?P<d>\d{{1,2}}){THEN}",
        "packed": rf"(?P<y>(?:19|20)\d{{2}})(?P<m>\d{{2}})(?P<d>\d{{2}}){THEN}",
        "figures": rf"(?P<a>\d{{1,2}})(?P<mark>[-/.])\s?(?P<b>\d{{1,2}})(?P=mark)\s?{YEAR}{THEN}",
        "word": rf"(?P<d>\d{{1,2}})\.?[-./ ]*(?:de )?{WORD}[-./, ]*(?:de )?{YEAR}{THEN}",
        "word first": rf"{WORD}\s+(?P<d>\d{{1,2}})(?:st|nd|rd|th)?,?\s+(?P<y>\d{{4}}){THEN}",
        "clock": CLOCK,
        "clock half": rf"(?P<h>\d{{1,2}})\s*{HALF}",
        "digits": r"\d{1,4}",
        "serial": r"\d{5}(?:[.,]\d+)?",
    }.items()
}
WEEKDAY = re.compile(r"^[^\W\d]{2,10}\.?,?\s+(?=\d)")
# Days a spreadsheet counts from, so that serial 60 and later are right; the 1904 system starts later.
SERIAL_FROM = {"1900": date(1899, 12, 30), "1904": date(1904, 1, 1)}
SERIALS = range(20_000, 60_000)


class Shape(NamedTuple):
    """A cell taken apart: which shape of SHAPES, and the named parts of it."""

    name: str
    parts: dict[str, str | None]


def shape(text: str) -> Shape | None:
    """Which of the shapes a cell has; None if it is no time.

    >>> shape("3.6.25").name, shape("5-Mai-25").name, shape("45000.5").name, shape("soon")
    ('figures', 'word', 'serial', None)
    """
    tidied = words.tidy(text)
    for candidate in dict.fromkeys((tidied, WEEKDAY.sub("", tidied))):
        for name, pattern in SHAPES.items():
            found = pattern.match(candidate)
            if found and (not name.startswith("word") or month_of(found["word"])):
                return Shape(name, found.groupdict() | {"text": candidate})
    return None


def month_of(word: str) -> int | None:
    """The month a word names in one of our languages."""
    code = words.of_kind("month").get(words.fold(word))
    return int(code) if code else None


def day_order(texts: Iterable[str]) -> Decision:
    """Whether the day or the month stands first in a column: 'dmy', 'mdy', or None if nothing in it decides.

    Points (3.6.25) are day first unless a second figure above 12 says otherwise; slashes and hyphens
    need a figure above 12. A column without any such cell needs no order: 'dmy' is returned.

    >>> day_order(["03/06/2025", "25/06/2025"]).choice, day_order(["03/06/2025"]).choice
    ('dmy', None)
    """
    day_first, month_first, unclear, points = [], [], [], []
    for text in texts:
        found = None if text[4:5] == "-" else shape(text)  # a year first needs no order
        if found is None or found.name != "figures":
            continue
        first, second = int(found.parts["a"]), int(found.parts["b"])
        if first > 12 >= second:
            day_first.append(text)
        elif second > 12 >= first:
            month_first.append(text)
        elif first != second:
            (points if found.parts["mark"] == "." else unclear).append(text)
    if day_first and month_first:
        why = f"{day_first[0]} has the day first and {month_first[0]} the month"
        return Decision(None if unclear or points else "dmy", why, contradicted=True)
    if day_first:
        return Decision("dmy", f"{day_first[0]} can only have the day first")
    if month_first:
        return Decision("mdy", f"{month_first[0]} can only have the month first")
    if unclear:
        return Decision(None, f"{unclear[0]} may have the day or the month first")
    return Decision("dmy", "dates written with points have the day first" if points else "no date in it needs one")


def parse(text: str, order: str = "dmy", serials: str = "1900") -> str | None:
    """A cell as a time in our form; None if it is not one. Bare digits are read by parse_digits.

    order: 'dmy' or 'mdy', for figures that could be either; serials: '1900' or '1904'. Two-digit years are 20xx.

    >>> parse("3.6.25"), parse("5-Mai-25"), parse("45000.5"), parse("08:15"), parse("7:30 pm")
    ('2025-06-03', '2025-05-05', '2023-03-15 12:00:00', '08:15:00', '19:30:00')
    >>> parse("2026-03-01T09:05:00+01:00"), parse("03/06/2025 8:05", "mdy"), parse("31.2.2025")
    ('2026-03-01 09:05:00+01:00', '2025-03-06 08:05:00', None)
    """
    found = shape(text)
    if found is None or found.name == "digits":
        return None
    parts = found.parts
    if found.name == "serial":
        return serial(parts["text"].replace(",", "."), serials)
    clock = _clock(parts)
    if found.name.startswith("clock"):
        return clock
    if parts.get("h") and clock is None:
        return None
    day = _day(parts, order)
    if day is None:
        return None
    return f"{day}{' ' + clock if clock else ''}{_zone(parts.get('zone'))}"


def _day(parts: dict, order: str) -> str | None:
    year = int(parts["y"]) + (2000 if len(parts["y"]) == 2 else 0)
    if parts.get("word"):
        month, day = month_of(parts["word"]), int(parts["d"])
    elif parts.get("a"):
        first, second = int(parts["a"]), int(parts["b"])
        day_first = first > 12 if max(first, second) > 12 else order == "dmy"
        day, month = (first, second) if day_first else (second, first)
    else:
        month, day = int(parts["m"]), int(parts["d"])
    try:
        return date(year, month, day).isoformat()
    except ValueError:
        return None


def _clock(parts: dict) -> str | None:
    if not parts.get("h"):
        return None
    hour, minute, second = int(parts["h"]), int(parts.get("mi") or 0), int(parts.get("s") or 0)
    if parts.get("half"):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if parts["half"][0].lower() == "p" else 0)
    if hour == 24 and minute == second == 0:
        return None
    return f"{hour:02}:{minute:02}:{second:02}" if hour < 24 and minute < 60 and second < 60 else None


def _zone(zone: str | None) -> str:
    if not zone:
        return ""
    if zone.upper() in ("Z", "UTC", "GMT"):
        return "+00:00"
    return f"{zone[:3]}:{zone[-2:]}"


def serial(text: str, system: str = "1900") -> str | None:
    """A spreadsheet's day number as a time, to the second; None outside 20,000 to 59,999 (1954 to 2064).

    >>> serial("45000.5"), serial("44000"), serial("43538.5", "1904")
    ('2023-03-15 12:00:00', '2020-06-18', '2023-03-15 12:00:00')
    """
    number = float(text)
    if int(number) + (1462 if system == "1904" else 0) not in SERIALS:
        return None
    moment = datetime.combine(SERIAL_FROM[system], datetime.min.time()) + timedelta(seconds=round(number * 86400))
    return moment.date().isoformat() if number == int(number) else moment.isoformat(" ")


def parse_digits(text: str) -> str | None:
    """A clock written as figures without a mark, hours before minutes: 815 is 08:15, 30 is 00:30.

    >>> parse_digits("815"), parse_digits("30"), parse_digits("0"), parse_digits("2575")
    ('08:15:00', '00:30:00', '00:00:00', None)
    """
    if not SHAPES["digits"].match(text.strip()):
        return None
    hour, minute = divmod(int(text), 100)
    return f"{hour:02}:{minute:02}:00" if hour < 24 and minute < 60 else None


def by_format(text: str, form: str) -> str | None:
    """A cell read by a form of strptime, in our form; a form without a day gives a clock.

    >>> by_format("010326-0815", "%d%m%y-%H%M"), by_format("8h05", "%Hh%M"), by_format("soon", "%H%M")
    ('2026-03-01 08:15:00', '08:05:00', None)
    """
    try:
        moment = datetime.strptime(words.tidy(text), form)
    except ValueError:
        return None
    if not re.search(r"%[djxc]", form):
        return moment.strftime("%H:%M:%S")
    return moment.isoformat(" ") if re.search(r"%[HIXc]", form) else moment.date().isoformat()
