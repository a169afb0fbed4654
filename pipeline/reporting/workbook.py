"""A workbook (XLSX) of plain tables, written as the XML it is: bold headings that stay in sight, text, numbers, days.

Ours because stock and training write workbooks of a hundred thousand rows and a workbook a trainee each month: a
general writer keeps every cell as an object and takes five times as long. Text is always text, never a formula.

Source: ECMA-376, part 1, chapters 12 and 18 (SpreadsheetML), part 2 (packages).
"""

import io
import re
import zipfile
from datetime import date, datetime, timedelta
from math import isfinite
from xml.sax.saxutils import escape, quoteattr

WIDEST = 60
"""Characters of the widest column of a sheet."""
LONGEST = 32_767
"""Characters a cell may hold."""
MOST_ROWS = 1_048_575
"""Rows a sheet may hold below its headings."""

HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATED = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
UNSAFE = re.compile("_(?=x[0-9A-Fa-f]{4}_)|[\x00-\x08\x0b-\x1f\ufffe\uffff]")

BOLD, DAY, MOMENT = 1, 2, 3
STYLES = f"""{HEAD}<styleSheet xmlns="{MAIN}">\
<numFmts count="2"><numFmt numFmtId="164" formatCode="yyyy\\-mm\\-dd"/>\
<numFmt numFmtId="165" formatCode="yyyy\\-mm\\-dd\\ hh:mm"/></numFmts>\
<fonts count="2"><font><sz val="11"/><name val="Calibri"/><family val="2"/></font>\
<font><b/><sz val="11"/><name val="Calibri"/><family val="2"/></font></fonts>\
<fills count="2"><fill><patternFill patternType="none"/></fill>\
<fill><patternFill patternType="gray125"/></fill></fills>\
<borders count="2"><border><left/><right/><top/><bottom/><diagonal/></border>\
<border><left/><right/><top/><bottom style="thin"><color auto="1"/></bottom><diagonal/></border></borders>\
<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>\
<cellXfs count="4"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>\
<xf numFmtId="0" fontId="1" fillId="0" borderId="1" xfId="0" applyFont="1" applyBorder="1"/>\
<xf numFmtId="164" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>\
<xf numFmtId="165" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/></cellXfs>\
<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>"""


def workbook(tables: list[tuple[str, list[str], list]]) -> bytes:
    """A workbook with a sheet for each table (name, headings, rows); equal tables give equal bytes."""
    texts: dict[str, int] = {}
    names: list[str] = []
    for name, _, _ in tables:
        names.append(sheet_name(name, names))
    sheets = [sheet(headings, fitting(rows), texts) for _, headings, rows in tables]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        for path, text in (*parts(names), ("xl/sharedStrings.xml", shared(texts))):
            packed.writestr(entry(path), text)
        for number, text in enumerate(sheets, 1):
            packed.writestr(entry(f"xl/worksheets/sheet{number}.xml"), text)
    return out.getvalue()


def fitting(rows: list) -> list:
    """The rows; of more than a sheet holds the first, and a last one that says how many are not here."""
    if len(rows) <= MOST_ROWS:
        return rows
    kept = rows[: MOST_ROWS - 1]
    missing = f"{len(rows) - len(kept)} more rows: see the CSV of this table"
    return [*kept, [missing, *[None] * (len(rows[0]) - 1)]]


def entry(path: str) -> zipfile.ZipInfo:
    """A file of the package, without the time at which it was written."""
    info = zipfile.ZipInfo(path, (1980, 1, 1, 0, 0, 0))
    info.compress_type = zipfile.ZIP_DEFLATED
    return info


def parts(names: list[str]) -> list[tuple[str, str]]:
    """What a package holds beside its sheets: which parts there are, and how they belong together."""
    numbers = range(1, len(names) + 1)
    types = {"xl/workbook": "sheet.main", "xl/styles": "styles", "xl/sharedStrings": "sharedStrings"}
    types |= {f"xl/worksheets/sheet{number}": "worksheet" for number in numbers}
    overrides = "".join(
        f'<Override PartName="/{part}.xml" ContentType="{TYPE}.{kind}+xml"/>' for part, kind in types.items()
    )
    listed = "".join(
        f'<sheet name={quoteattr(name)} sheetId="{number}" r:id="rId{number}"/>'
        for number, name in zip(numbers, names, strict=True)
    )
    targets = [("worksheet", f"worksheets/sheet{number}") for number in numbers]
    return [
        ("[Content_Types].xml", f'{HEAD}<Types xmlns="{PACKAGE}/content-types"><Default Extension="rels" '
         f'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>{overrides}</Types>'),
        ("_rels/.rels", related([("officeDocument", "xl/workbook")])),
        ("xl/workbook.xml", f'{HEAD}<workbook xmlns="{MAIN}" xmlns:r="{RELATED}"><sheets>{listed}</sheets></workbook>'),
        ("xl/_rels/workbook.xml.rels", related([*targets, ("styles", "styles"), ("sharedStrings", "sharedStrings")])),
        ("xl/styles.xml", STYLES),
    ]  # fmt: skip


def related(targets: list[tuple[str, str]]) -> str:
    """The parts that belong to a part, numbered from rId1."""
    each = "".join(
        f'<Relationship Id="rId{number}" Type="{RELATED}/{kind}" Target="{target}.xml"/>'
        for number, (kind, target) in enumerate(targets, 1)
    )
    return f'{HEAD}<Relationships xmlns="{PACKAGE}/relationships">{each}</Relationships>'


def shared(texts: dict[str, int]) -> str:
    """The texts of all sheets, each once; cells name them by number."""
    each = "".join([f'<si><t xml:space="preserve">{safe(text)}</t></si>' for text in texts])
    return f'{HEAD}<sst xmlns="{MAIN}" uniqueCount="{len(texts)}">{each}</sst>'


def safe(text: str) -> str:
    """Text as XML holds it: what it cannot hold is written as its number.

    >>> safe("a < b, \\x01 and _x0041_")
    'a &lt; b, _x0001_ and _x005F_x0041_'
    """
    return escape(UNSAFE.sub(lambda found: f"_x{ord(found.group()):04X}_", text) if UNSAFE.search(text) else text)


def sheet(headings: list[str], rows: list, texts: dict[str, int]) -> str:
    """A sheet. texts: those met so far with their numbers, to which this adds its own."""
    columns, wide = [], []
    values = zip(*rows, strict=True) if rows else [()] * len(headings)
    for place, (heading, under) in enumerate(zip(headings, values, strict=True), 1):
        letters = column_letters(place)
        number = texts.setdefault(heading[:LONGEST], len(texts))
        cells, longest = column(letters, under, texts)
        columns.append([f'<c r="{letters}1" s="{BOLD}" t="s"><v>{number}</v></c>', *cells])
        width = min(max(longest, len(heading)) + 2, WIDEST)
        wide.append(f'<col min="{place}" max="{place}" width="{width}" customWidth="1"/>')
    lines = [f'<row r="{number}">{"".join(row)}</row>' for number, row in enumerate(zip(*columns, strict=True), 1)]
    return (
        f'{HEAD}<worksheet xmlns="{MAIN}"><sheetViews><sheetView workbookViewId="0"><pane ySplit="1" '
        'topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>'
        f"<cols>{''.join(wide)}</cols><sheetData>{''.join(lines)}</sheetData></worksheet>"
    )


def column(letters: str, values, texts: dict[str, int]) -> tuple[list[str], int]:
    """The cells of a column from row 2 on, and the length of the longest; an unknown value is no cell."""
    cells, longest, head = [], 0, f'<c r="{letters}'
    for row, value in enumerate(values, 2):
        if isinstance(value, str):
            said = value if len(value) <= LONGEST else value[:LONGEST]
            cells.append(f'{head}{row}" t="s"><v>{texts.setdefault(said, len(texts))}</v></c>')
        elif value is None:
            cells.append("")
            continue
        else:
            said = str(value)
            kind, inside = written(value, said)
            cells.append(f'{head}{row}"{kind}><v>{inside}</v></c>')
        if len(said) > longest:
            longest = len(said)
    return cells, longest


def written(value, said: str) -> tuple[str, object]:
    """(attributes, content) of a cell that is no text. Raises ValueError for a number that no sheet holds."""
    if isinstance(value, bool):
        return ' t="b"', int(value)
    if isinstance(value, date):
        return f' s="{MOMENT if isinstance(value, datetime) else DAY}"', serial(value)
    if not isfinite(value):
        raise ValueError(f"{value} in a table: a sheet holds no such number")
    return "", said


def serial(day: date) -> float:
    """Days since the end of 1899, as sheets count them from March 1900 on.

    >>> serial(date(2026, 10, 3)), serial(datetime(2026, 10, 3, 6))
    (46298, 46298.25)
    """
    if isinstance(day, datetime):
        return (day.replace(tzinfo=None) - datetime(1899, 12, 30)) / timedelta(days=1)
    return (day - date(1899, 12, 30)).days


def column_letters(number: int) -> str:
    """
    >>> column_letters(1), column_letters(26), column_letters(703)
    ('A', 'Z', 'AAA')
    """
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def sheet_name(wanted: str, taken: list[str]) -> str:
    """A sheet name of at most 31 characters, not used before."""
    name, number, used = wanted[:31], 2, {one.lower() for one in taken}
    while name.lower() in used:
        name, number = f"{wanted[:27]}_{number}", number + 1
    return name
