"""The frame every page stands in: pages, sections, figures and tables as plain records, rendered to one file.

A report builds a Page and calls write_page; it writes no HTML of its own::

    from pipeline.figures import charts
    from pipeline.reporting.frame import Column, Figure, Page, Section, Table, write_page

    table = Table("use", "Use a month", [Column("Month", "month"), Column("Propofol", "number", unit="mL")], rows)
    figure = Figure("use-fig", "Propofol use rose by a third since May", charts.lines(...), table,
                    caption="24 complete months; 3 doses could not be counted.", method="consumption")
    page = Page("stock", "Stock and orders", settings.name, "October 2026",
                [Section("use", "What we used", "How much of what, for whom?", [figure, "A paragraph.", table])],
                methods=["consumption"], lead=["Order propofol before 3 November."])
    write_page(page, settings, db, clinic / "reports")     # stock.html, stock.xlsx, tables/stock_use.csv

Items of a section: a str is a paragraph, a list or tuple of str is a bulleted list, Table, Figure, Grid (figures
side by side), Fold (items under a summary). Text is plain text always; the frame escapes it.
Rows hold raw values (numbers, str, date, None for unknown); the column's kind says how they read, so that a
reader sorts and exports the value itself. A Cell adds a link or other words to a value.
"""

import base64
import hashlib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.figures.theme import CONFIG, Drawing, library
from pipeline.reporting import sheets
from pipeline.reporting.display import Display, words
from pipeline.shipped import folder

CAUTION = (
    "This page supports the review of anesthesia by licensed professionals. It replaces no clinical judgment, "
    "it ranks nobody, and local law and codes of conduct come before anything it says."
)


@dataclass(frozen=True, slots=True)
class Column:
    """A column: title, kind, unit in the heading, decimals of a number.

    kind: text, code (a code in plain words), count, number, share (0 to 1), interval (a (low, high) pair of
    shares), range (a (low, high) pair of numbers), nowrap (text on one line), minutes, p, month ('YYYY-MM'), day,
    moment, temperature (°C stored), weight (kg stored).
    """

    title: str
    kind: str = "text"
    unit: str = ""
    digits: int = 1


@dataclass(frozen=True, slots=True)
class Cell:
    """A value with a link, or shown in other words than its own."""

    value: Any
    text: str | None = None
    href: str | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """id: letters, digits, hyphens, unique on the page; rows: one sequence of values or Cells a row."""

    id: str
    title: str
    columns: list[Column]
    rows: list
    note: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """finding: the sentence the figure shows, written from its numbers; caption: what is drawn, n, and how many
    could not be judged; method: the group of definitions it links to; size: full, half or third of the width."""

    id: str
    finding: str
    drawing: Drawing
    table: Table
    caption: str = ""
    method: str = ""
    size: str = "full"


@dataclass(frozen=True, slots=True)
class Grid:
    """Figures side by side: small multiples."""

    figures: list[Figure]


@dataclass(frozen=True, slots=True)
class Fold:
    """Items under a summary, closed on screen, open on paper."""

    title: str
    items: list


@dataclass(frozen=True, slots=True)
class Section:
    id: str
    title: str
    question: str
    items: list


@dataclass(frozen=True, slots=True)
class Page:
    """name: file name without ending; period: what the page is about, in words; lead: sentences at the top,
    strongest first, each a str or a tuple (sentence, '#id it points to', words of the link, evidence in small type),
    the last two optional; lead_order: the rule behind their order; methods: groups of definitions at the foot;
    running: words at the foot of every printed sheet, with its number."""

    name: str
    title: str
    clinic: str
    period: str
    sections: list[Section]
    methods: list[str] = field(default_factory=list)
    lead: list = field(default_factory=list)
    share: bool = False
    running: str = ""
    lead_order: str = ""


def write_page(page: Page, settings, db, folder: Path) -> list[Path]:
    """Writes NAME.html, NAME.xlsx and tables/NAME_ID.csv into folder; returns the paths, the page first."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{page.name}.html"
    sheets.replace(path, render_page(page, settings, db).encode("utf-8"))
    return [path, *sheets.write_tables(page.name, tables_of(page.sections), folder, Display(settings.display))]


def render_page(page: Page, settings, db=None) -> str:
    """The page as one HTML text without a single outside address; equal input gives equal bytes."""
    from pipeline.reporting.methods import method_pages

    display = Display(settings.display)
    drawings = [item for item in walk(page.sections) if isinstance(item, Figure)]
    scripts = ([library()] if drawings else []) + [static("report.js")]
    return (
        environment(settings.display)
        .get_template("page.html.j2")
        .render(
            page=page,
            caution=CAUTION,
            methods=method_pages(page.methods, settings, db, display),
            style=static("report.css"),
            scripts=scripts,
            policy=policy(scripts),
            config=CONFIG,
        )
    )


@cache
def static(name: str) -> str:
    return (folder("reports") / "static" / name).read_text(encoding="utf-8")


def policy(scripts: list[str]) -> str:
    """The Content-Security-Policy that lets exactly these scripts run and nothing be fetched."""
    hashes = " ".join(f"'sha256-{digest(script)}'" for script in scripts)
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


@cache
def digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


@cache
def environment(given):
    """Jinja with escaping always on; an undefined name is an error. given: [display] of clinic.toml, for each of which
    the templates are compiled once."""
    import jinja2
    from markupsafe import Markup

    from pipeline.reporting import cells

    display = Display(given)
    env = jinja2.Environment(
        loader=jinja2.FileSystemLoader(folder("reports") / "templates", encoding="utf-8"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters["shown"] = lambda value, column: cells.shown(value, column, display)
    env.filters["body"] = lambda table: Markup(cells.body(table, display))
    env.filters["heading"] = lambda column: cells.heading(column, display)
    env.filters["words"] = words
    env.filters["script_json"] = lambda text: Markup(js_json(text))
    env.filters["css_text"] = lambda text: Markup(css_text(text))
    env.filters["kind_of"] = lambda item: type(item).__name__
    env.filters["trusted"] = Markup  # our own static files and rendered method pages only
    return env


def js_json(text: str) -> str:
    """JSON that cannot end the script element it stands in."""
    for character in "&<>\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text


def css_text(text: str) -> str:
    """Text as a CSS string that cannot end the style element it stands in.

    >>> css_text('</style> "x"')
    '"\\\\00003c/style\\\\00003e \\\\000022x\\\\000022"'
    """
    plain = (letter if letter.isalnum() or letter in " .,:;-_/" else f"\\{ord(letter):06x}" for letter in text)
    return f'"{"".join(plain)}"'


def walk(sections):
    """Every item of the sections, those in grids and folds too, in page order."""
    for section in sections:
        yield from _inner(section.items)


def _inner(items):
    for item in items:
        if isinstance(item, Grid):
            yield from item.figures
        elif isinstance(item, Fold):
            yield from _inner(item.items)
        else:
            yield item


def tables_of(sections) -> list[Table]:
    """Every table of the sections, in page order, the figures' too."""
    found = [item.table if isinstance(item, Figure) else item for item in walk(sections)]
    return [item for item in found if isinstance(item, Table)]
