"""What python-calamine does not tell of an XLSX sheet: cells without a result, hidden rows, the 1904 flag.

XLS and ODS keep these elsewhere; there error cells arrive blank and dates are already converted.
"""

import re
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
LINKS = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
CELL = re.compile(rb"<c\b(?P<head>[^>]*)>(?P<body>.*?)</c>", re.DOTALL)
ERROR = re.compile(rb'<c\b[^>]*\bt="e"[^>]*>.*?</c>', re.DOTALL)
NO_RESULT = re.compile(rb"<c\b[^>]*>\s*<f\b(?:[^>]*/>|[^>]*>[^<]*</f>)\s*(?:<v\s*/>|<v></v>)?\s*</c>", re.DOTALL)
PLACE = re.compile(rb'\br="([A-Z]+)(\d+)"')
HIDDEN_ROW = re.compile(rb'<row\b[^>]*\bhidden="(?:1|true)"')


@dataclass
class Marks:
    """broken: (row, column, text) of error cells and formulas without a result, from 0; hidden_rows: how
    many; serials: the day count of bare numbers, '1900' or '1904'."""

    broken: list[tuple[int, int, str]] = field(default_factory=list)
    hidden_rows: int = 0
    serials: str = "1900"


def marks(path: Path) -> dict[str, Marks]:
    """Marks of each sheet by name; none for a file that is no XLSX."""
    if not zipfile.is_zipfile(path):
        return {}
    with zipfile.ZipFile(path) as book:
        inside = set(book.namelist())
        if "xl/workbook.xml" not in inside:
            return {}
        root = ElementTree.fromstring(book.read("xl/workbook.xml"))
        links = ElementTree.fromstring(book.read("xl/_rels/workbook.xml.rels"))
        targets = {link.get("Id"): link.get("Target", "").removeprefix("/xl/") for link in links}
        properties = root.find(f"{MAIN}workbookPr")
        old = properties is not None and properties.get("date1904") in ("1", "true")
        found = {}
        for sheet in root.iter(f"{MAIN}sheet"):
            part = "xl/" + targets.get(sheet.get(f"{LINKS}id"), "")
            if part in inside:
                found[sheet.get("name")] = _of_sheet(book.read(part), "1904" if old else "1900")
    return found


def _of_sheet(xml: bytes, serials: str) -> Marks:
    broken = []
    if b't="e"' in xml:
        for cell in ERROR.findall(xml):
            value = re.search(rb"<v>([^<]*)</v>", cell)
            broken.append((*_place(cell), value[1].decode("ascii", "replace") if value else "#N/A"))
    if b"<f" in xml:
        broken += [(*_place(cell), "=formula") for cell in NO_RESULT.findall(xml)]
    return Marks(broken, len(HIDDEN_ROW.findall(xml)), serials)


def _place(cell: bytes) -> tuple[int, int]:
    """Row and column of a cell, from 0.

    >>> _place(b'<c r="AB12" t="e">')
    (11, 27)
    """
    letters, row = PLACE.search(cell).groups()
    column = 0
    for letter in letters:
        column = column * 26 + letter - 64
    return int(row) - 1, column - 1
