"""Column names: cleaning them, and deciding from them which canonical table a file holds."""

import re
import unicodedata
from collections.abc import Iterable
from difflib import get_close_matches
from functools import cache, lru_cache
from pathlib import Path

from pipeline import schema
from pipeline.errors import RefusedFile

# Columns of a sheet we wrote for mending, beside the canonical ones: they say which row it mends.
MENDING = ("problem", "proposal", "from_file", "from_row")


UNSEEN = dict.fromkeys(map(ord, "\ufeff\u200b\u200c\u200d\u2060\u00ad"))


@lru_cache(maxsize=1 << 12)
def clean(name: str) -> str:
    """A header as we compare it: no byte-order mark, odd spaces or case; words joined by '_'.

    >>> clean("\\ufeffCase\\u00a0ID "), clean("Weight-kg"), clean("_row")
    ('case_id', 'weight_kg', '_row')
    """
    name = unicodedata.normalize("NFKC", str(name).translate(UNSEEN)).strip().casefold()
    return re.sub(r"[\s.\-]+", "_", name)


def is_mending(header: Iterable[str]) -> bool:
    """Whether a file is a sheet we wrote for mending: it says which row of which file each of its rows is."""
    return {"from_file", "from_row"} <= set(header)


@cache
def columns_of(table: str) -> dict[str, schema.Column]:
    """Columns a file of this table may have; vitals may come wide, one column a parameter."""
    known = {column.name: column for column in schema.TABLES[table].columns}
    if table == "vitals":
        known |= {name: schema.number(name, name, unit) for name, unit in schema.PARAMETERS.items()}
    return known


def required_of(table: str, header: Iterable[str]) -> tuple[str, ...]:
    """Columns without which a file is not this table. A wide vitals file needs one parameter instead."""
    required = schema.TABLES[table].required
    if table == "vitals" and is_wide(header):
        return tuple(name for name in required if name != "parameter")
    return required


def is_wide(header: Iterable[str]) -> bool:
    """Whether a vitals header has one column a parameter."""
    header = set(header)
    return "parameter" not in header and bool(header & set(schema.PARAMETERS))


def known(header: Iterable[str]) -> int:
    """How many of these names the best-matching table knows."""
    header = set(header)
    return 0 if header.isdisjoint(_names()) else max(len(header & columns_of(table).keys()) for table in schema.TABLES)


@cache
def _names() -> frozenset[str]:
    """Every column of every table."""
    return frozenset().union(*(columns_of(table) for table in schema.TABLES))


def table_of(header: list[str], path: Path) -> str:
    """The table a file with these (clean) headers holds. Raises RefusedFile if none, naming what is missing."""
    names = set(header)
    matched = {table: len(names & columns_of(table).keys()) for table in schema.TABLES}
    lacking = {table: [c for c in required_of(table, names) if c not in names] for table in schema.TABLES}
    named = [table for table in schema.TABLES if table in path.name.casefold()]

    def rank(table):
        return matched[table], table in named, not lacking[table]

    best = max(schema.TABLES, key=rank)
    if best == "cases" and matched["cases"] < 2 and len(names) > 1 and best not in named:
        matched[best] = 0
    if not matched[best]:
        raise RefusedFile(
            where=path.name,
            found="no line among the first 30 with our column names",
            wanted=f"the columns of one table, such as cases ({', '.join(schema.CASES.required)}, species, ...)",
            fix=f"run `rounds map {path.name}` to say which column is what",
        )
    if lacking[best]:
        near = {want: get_close_matches(want, names - columns_of(best).keys(), 1, 0.6) for want in lacking[best]}
        hints = [f"is {found[0]} meant as {want}?" for want, found in near.items() if found]
        wanted = f"{best} also needs the column{'s' * (len(lacking[best]) > 1)} {', '.join(lacking[best])}"
        if "parameter" in lacking[best]:
            wanted += ", or one column a parameter such as heart_rate"
        raise RefusedFile(
            where=f"{path.name}, header",
            found=f"the columns {', '.join(sorted(header))}",
            wanted=wanted,
            fix=" ".join([*hints, "add the column to the export, or map it with `rounds map`"]),
        )
    return best


def nearest(name: str, table: str) -> str | None:
    """The canonical column a stray header most resembles, if any."""
    found = get_close_matches(name, columns_of(table), 1, 0.7)
    return found[0] if found else None
