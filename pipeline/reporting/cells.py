"""Cells of a table as a page writes them: what they say, what they sort by, and whole tables of them as HTML.

Tables are written column by column, not by the template: long ones hold a hundred thousand cells, of which most are
words, counts and days that stand in the column already.
"""

import re
from datetime import date, datetime

from markupsafe import escape

from pipeline.reporting.display import DASH, Display, month_name, words
from pipeline.reporting.frame import Cell, Column, Table

UNSAFE = re.compile("[&<>\"']")
REPEATED = {str, int, date, datetime}
"""Types of which equal values read alike, so that each is written once; 0.0 and -0.0 are equal and do not."""


def body(table: Table, display: Display) -> str:
    """The rows of a table as HTML, every value escaped."""
    if not table.rows:
        return ""
    columns = zip(*table.rows, strict=True)
    written = [
        cells(values, column, display, "td" if place else "th")
        for place, (values, column) in enumerate(zip(columns, table.columns, strict=True))
    ]
    return "".join([f"  <tr>{''.join(row)}</tr>\n" for row in zip(*written, strict=True)])


def cells(values, column: Column, display: Display, tag: str) -> list[str]:
    """A column as HTML. tag: 'th' makes each cell the heading of its row."""
    start = f'<{tag} class="{safe(column.kind)}"' + (' scope="row"' if tag == "th" else "")
    kinds = set(map(type, values)) - {type(None)}
    if len(kinds) <= 1 and kinds <= REPEATED:
        written = {value: cell(start, value, column, display, tag) for value in set(values)}
        return [written[value] for value in values]
    return [cell(start, value, column, display, tag) for value in values]


def cell(start: str, value, column: Column, display: Display, tag: str) -> str:
    """A value as HTML. start: its tag with what all cells of the column have in it."""
    key, said = sort_key(value, column), safe(shown(value, column, display))
    if isinstance(value, Cell) and value.href:
        said = f'<a href="{safe(value.href)}">{said}</a>'
    return f'{start} data-key="{safe(key)}">{said}</{tag}>' if key else f"{start}>{said}</{tag}>"


def safe(text: str) -> str:
    """Text as HTML holds it, between quotes too.

    >>> safe("a < b"), safe('"x"')
    ('a &lt; b', '&#34;x&#34;')
    """
    return str(escape(text)) if UNSAFE.search(text) else text


def raw(value):
    return value.value if isinstance(value, Cell) else value


def heading(column: Column, display: Display) -> str:
    unit = {"temperature": display.temperature_unit, "weight": display.weight_unit, "minutes": "min"}.get(
        column.kind, column.unit
    )
    return f"{column.title}, {unit}" if unit else column.title


def shown(value, column: Column, display: Display) -> str:
    """A value as the page writes it."""
    if isinstance(value, Cell) and value.text is not None:
        return value.text
    value = raw(value)
    if value is None or value == "":
        return DASH
    if isinstance(value, str) and column.kind not in ("code", "month"):
        return value
    match column.kind:
        case "code":
            return words(value)
        case "count":
            return display.count(value)
        case "number" | "minutes":
            return display.number(value, column.digits)
        case "share":
            return display.share(value)
        case "interval":
            return DASH if value[0] is None else f"{display.number(value[0] * 100)} to {display.share(value[1])}"
        case "range":
            return (
                DASH
                if value[0] is None and value[1] is None
                else f"{display.number(value[0], column.digits)} to {display.number(value[1], column.digits)}"
            )
        case "p":
            return display.p(value)
        case "month":
            return month_name(value, short=True)
        case "day":
            return display.day(value)
        case "moment":
            return display.moment(value)
        case "temperature":
            return display.number(display.celsius(value))
        case "weight":
            return display.number(display.kg(value))
    return str(value)


def sort_key(value, column: Column) -> str:
    """What a script compares when it sorts: a number, an ISO date, or '' for text sorted as shown."""
    value = raw(value)
    if isinstance(value, tuple | list):
        value = value[0]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, bool) or value is None:
        return ""
    if isinstance(value, int | float):
        return f"{value:.8g}"
    return value if column.kind == "month" else ""
