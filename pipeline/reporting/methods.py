"""The foot of every page: definitions from reports/methods/, the thresholds and sources really used.

A method page is Markdown; its first line is the title, an optional second line `seeds: a, b` names the
seed tables whose rows stand under it, as they are in the database (that is, after the clinic's settings).
"""

from dataclasses import dataclass
from functools import cache

from pipeline.reporting.display import Display, words
from pipeline.shipped import folder


@dataclass(frozen=True, slots=True)
class Method:
    """A rendered group of definitions: html is ours, tables are seed rows still to be escaped."""

    name: str
    title: str
    html: str
    tables: list


def method_pages(names: list[str], settings, db, display: Display) -> list[Method]:
    """The method pages asked for, in that order. db None: without the seed rows."""
    return [_method(name, db) for name in names]


def _method(name: str, db) -> Method:
    title, html, seeds = _written_page(name)
    return Method(name, title, html, seed_tables(db, seeds, name) if db else [])


@cache
def _written_page(name: str) -> tuple[str, str, list[str]]:
    """Title, HTML and seed tables of a method page."""
    import mistune

    text = (folder("reports") / "methods" / f"{name}.md").read_text(encoding="utf-8")
    title, _, rest = text.partition("\n")
    seeds: list[str] = []
    if rest.startswith("seeds:"):
        line, _, rest = rest.partition("\n")
        seeds = [seed.strip() for seed in line.removeprefix("seeds:").split(",")]
    html = mistune.create_markdown(escape=True, plugins=["table"])(rest)
    return title.removeprefix("# ").strip(), html, seeds


def seed_tables(db, names: list[str], method: str) -> list:
    """The rows of those seed tables that the database holds, as tables for the page."""
    from pipeline.database import tables
    from pipeline.reporting.frame import Column, Table

    there, found = tables(db) if names else set(), []
    for name in names:
        if name not in there:
            continue
        columns = [row[0] for row in db.execute(f'DESCRIBE "{name}"').fetchall()]
        rows = db.execute(f'SELECT * FROM "{name}" ORDER BY ALL').fetchall()
        used = [i for i in range(len(columns)) if any(row[i] is not None for row in rows)]
        headings = [Column(words(columns[i]), "seed") for i in used]
        title = f"{words(name.removeprefix('seed_'))}: the values used".capitalize()
        found.append(
            Table(
                f"{method}-{name}".replace("_", "-"),
                title,
                headings,
                [[_written(row[i]) for i in used] for row in rows],
            )
        )
    return found


def _written(value):
    """A seed value as typed: 34.0 stays '34', unknown stays unknown."""
    return f"{value:g}" if isinstance(value, float) else value if value is None else str(value)
