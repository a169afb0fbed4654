"""Words the typing knows, from sql/seeds/: spellings of missing, yes and no, codes, spreadsheet errors, month names."""

import csv
from functools import cache

from pipeline import schema
from pipeline.shipped import folder

# Amount units are told apart from free spellings by these rewrites alone; a factor is never applied.
UNIT_SPELLINGS = (("µ", "mc"), ("μ", "mc"), ("ug", "mcg"), ("gamma", "mcg"))


@cache
def rows(seed: str) -> tuple[dict, ...]:
    """Rows of sql/seeds/<seed>.csv as text."""
    with (folder("sql") / "seeds" / f"{seed}.csv").open(encoding="utf-8", newline="") as lines:
        return tuple(csv.DictReader(lines))


@cache
def of_kind(kind: str) -> dict[str, str]:
    """Folded word -> code, for one kind of word."""
    found = {}
    for seed in ("words_codes", "words_cells"):
        for row in rows(seed):
            if row["kind"] == kind:
                found.setdefault(row["word"].casefold(), row["code"])
    return found


@cache
def missing() -> frozenset[str]:
    """Spellings of a value nobody has, folded."""
    return frozenset(of_kind("missing"))


@cache
def missing_numbers() -> dict[str, frozenset[float]]:
    """Column or parameter -> numbers that stand for not measured in it."""
    found: dict[str, set[float]] = {}
    for row in rows("missing_numbers"):
        found.setdefault(row["column_name"], set()).add(float(row["val"]))
    return {name: frozenset(values) for name, values in found.items()}


def fold(word: str) -> str:
    """A code as it is compared: case, spaces and hyphens do not count.

    >>> fold(" Soft Tissue"), fold("mL/h")
    ('soft_tissue', 'ml/h')
    """
    return "_".join(word.casefold().replace("-", " ").replace("_", " ").split())


@cache
def codes(column: schema.Column) -> dict[str, str]:
    """Folded spelling -> code of this column; the codes themselves and the words for them we ship."""
    found = {fold(code): code for code in column.codes}
    for word, code in of_kind(column.name).items():
        if code in column.codes:
            found.setdefault(fold(word), code)
    if column.name == "amount_unit":
        for old, new in UNIT_SPELLINGS:
            for code in column.codes:
                if new in code:
                    found.setdefault(fold(code.replace("mcg", old + "g" if len(old) == 1 else old)), code)
    return found
