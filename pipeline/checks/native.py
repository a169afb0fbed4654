"""Great Expectations looks at the rows itself: its own expectations over an Arrow-typed pandas frame.

Run on the small tables beside the SQL count of the same rule. Two ways of counting that disagree are a fault of
ours, and the rule says so instead of passing.
"""

import re
from functools import reduce
from operator import and_

from pipeline import schema
from pipeline.checks.catalogue import Rule
from pipeline.checks.conditions import Bounds
from pipeline.checks.judge import faulty, quiet_context, rule_of, validate

TABLES = ("cases", "equipment", "stock")
MOST_ROWS = 20_000

# "extubation_at_s < vaporizer_off_at_s": the pair rule that Great Expectations has an expectation for.
PAIR = re.compile(r"(\w+) < (\w+)")


def rows(db, table: str):
    """A table's rows as Arrow; None for one without rows, or too large for a data frame."""
    ((many,),) = db.execute(f"SELECT count(*) FROM {table}").fetchall()
    if not 0 < many <= MOST_ROWS:
        return None
    columns = ", ".join(f'"{name}"' for name, _ in schema.stored_columns(schema.TABLES[table]))
    return db.sql(f"SELECT {columns} FROM {table}").to_arrow_table()


def asked(db, rules: list[Rule], bounds: dict[str, Bounds]) -> list[tuple]:
    """What count is to be asked: a table's rows with its rules, for each table small enough."""
    found = [(rows(db, table), [rule for rule in rules if rule.table == table and rule.within_row]) for table in TABLES]
    return [(those, within, bounds) for those, within in found if those is not None]


def count(rows, rules: list[Rule], bounds: dict[str, Bounds]) -> dict[str, int | None]:
    """failed_in of Arrow rows."""
    return failed_in(rows.to_pandas(types_mapper=arrow_type), rules, bounds)


def arrow_type(kind):
    import pandas as pd

    return pd.ArrowDtype(kind)


def failed_in(frame, rules: list[Rule], bounds: dict[str, Bounds]) -> dict[str, int | None]:
    """Failing rows of each rule that Great Expectations has an expectation for, counted by it.

    frame: with the table's columns; readings need the animal's species and agent beside them. None for a rule that
    Great Expectations could not run.
    """
    asked = [expectation for rule in rules for expectation in expectations(rule, bounds)]
    counts: dict[str, int | None] = {}
    for result in validate(frame[looked_at(frame, asked)], asked) if asked else []:
        rule = rule_of(result)
        before = counts.get(rule, 0)
        unknown = faulty(result) or before is None
        counts[rule] = None if unknown else before + result.result.get("unexpected_count", 0)
    return counts


def looked_at(frame, asked: list) -> list[str]:
    """The columns that the expectations look at: narrowing rows to a species copies every column there is."""
    named = {getattr(one, name, None) for one in asked for name in ("column", "column_A", "column_B")}
    return [name for name in frame.columns if name in named | {"parameter", "species", "agent"}]


def expectations(rule: Rule, bounds: dict[str, Bounds]) -> list:
    """Great Expectations' own expectations that together say the rule; none where it has no words for it."""
    gx, _ = quiet_context()
    from great_expectations.expectations.row_conditions import Column

    expect = gx.expectations
    more = {"meta": {"rule": rule.id}}
    if rule.scope:
        return []
    if rule.rule in ("required", "filled"):
        return [expect.ExpectColumnValuesToNotBeNull(column=rule.columns[0], **more)]
    if rule.rule == "codes":
        column = schema.TABLES[rule.table].column(rule.columns[0])
        codes = [int(code) for code in column.codes] if column.kind == "integer" else list(column.codes)
        return [expect.ExpectColumnValuesToBeInSet(column=column.name, value_set=codes, **more)]
    if rule.rule == "plausible":
        value = "value" if rule.part else rule.columns[0]
        found = []
        for by, name, low, high in bounds[rule.part or value]:
            narrowed = [Column(of) == one for of, one in (("parameter", rule.part), (by, name)) if one]
            only = {"row_condition": reduce(and_, narrowed)} if narrowed else {}
            found.append(
                expect.ExpectColumnValuesToBeBetween(column=value, min_value=low, max_value=high, **only, **more)
            )
        return found
    pair = PAIR.fullmatch(rule.rule)
    if pair and set(pair.groups()) <= {name for name, _ in schema.stored_columns(schema.TABLES[rule.table])}:
        return [
            expect.ExpectColumnPairValuesAToBeGreaterThanB(
                column_A=pair.group(1),
                column_B=pair.group(2),
                or_equal=True,
                ignore_row_if="either_value_is_missing",
                **more,
            )
        ]
    return []
