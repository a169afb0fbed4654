"""The rules, read from sql/checks/catalogue.csv: one row a rule, refused whole where a row makes no sense.

level     column: one column of one row; row: several columns of one row; case: what a case holds together;
          table: what many rows hold together.
rule      a word for a column (required, filled, codes, plausible) or a table (present, unique), an SQL condition
          that is true where a row is wrong and NULL where it cannot be judged, or the name of a file in
          sql/checks/ for anything that needs other rows.
scope     an SQL condition: the rows the rule speaks about; blank, all of the table. part: one vitals parameter.
severity  stop: no page until mended; set_aside: the rows leave the measures, counted; flag: kept and shown;
          note: worth a look.
tolerated share of judged rows that may fail before the rule does.
"""

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pipeline import schema
from pipeline.shipped import folder

LEVELS = ("column", "row", "case", "table")
SEVERITIES = ("stop", "set_aside", "flag", "note")
COLUMN_WORDS = ("required", "filled", "codes", "plausible")
TABLE_WORDS = ("present", "unique")
# The canonical tables, and the list of loaded files.
TABLES = (*schema.TABLES, "files")


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of the catalogue. columns: what it looks at, the one to mend first."""

    id: str
    table: str
    level: str
    columns: tuple[str, ...]
    part: str
    rule: str
    scope: str
    severity: str
    tolerated: float
    sentence: str
    fix: str
    why: str
    source: str

    @property
    def file(self) -> Path | None:
        """The SQL file of a rule across rows; None for a rule within a row."""
        return folder("sql") / "checks" / self.rule if self.rule.endswith(".sql") else None

    @property
    def within_row(self) -> bool:
        """True where a row alone tells: all such rules of a table are counted in one scan."""
        return not self.file and self.rule not in TABLE_WORDS


class CatalogueFault(Exception):
    """A row of the catalogue that makes no sense: ours to mend."""


@cache
def rules() -> tuple[Rule, ...]:
    """Every rule, in the catalogue's order. Raises CatalogueFault naming the row."""
    path = folder("sql") / "checks" / "catalogue.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        found = tuple(_rule(row, number) for number, row in enumerate(csv.DictReader(lines), start=2))
    ids = [rule.id for rule in found]
    if len(ids) != len(set(ids)):
        raise CatalogueFault(f"catalogue.csv: {sorted({one for one in ids if ids.count(one) > 1})} stand twice")
    return found


def _rule(row: dict[str, str], line: int) -> Rule:
    given = dict(row)
    rule = Rule(
        **{**given, "columns": tuple(filter(None, given["columns"].split(";"))), "tolerated": float(given["tolerated"])}
    )
    wrong = [
        said
        for said, holds in (
            (f"level {rule.level!r}", rule.level in LEVELS),
            (f"severity {rule.severity!r}", rule.severity in SEVERITIES),
            (f"table {rule.table!r}", rule.table in TABLES),
            (f"tolerated {rule.tolerated}", 0 <= rule.tolerated < 1),
            ("a rule without sentence, fix, why or source", rule.sentence and rule.fix and rule.why and rule.source),
            (f"no file {rule.rule}", rule.file is None or rule.file.is_file()),
            (f"a word for {len(rule.columns)} columns", rule.rule not in COLUMN_WORDS or len(rule.columns) == 1),
        )
        if not holds
    ]
    if wrong:
        raise CatalogueFault(f"catalogue.csv, line {line}, {rule.id}: {'; '.join(wrong)}")
    return rule
