"""Great Expectations looks at the rows itself: its own expectations over an Arrow-typed pandas frame.

Run on the small tables beside the SQL count of the same rule. Two ways of counting that disagree are a fault of
ours, and the rule says so instead of passing.
"""

import re

from pipeline import schema
from pipeline.checks.catalogue import Rule
from pipeline.checks.conditions import Bounds
from pipeline.checks.judge import quiet_context, validate

TABLES = ("cases", "equipment", "stock")
MOST_ROWS = 20_000

# "extubation_at_s < vaporizer_off_at_s": the pair rule that Great Expectations has an expectation for.
PAIR = re.compile(r"(\w+) < (\w+)")


def failed(db, table: str, rules: list[Rule], bounds: dict[str, Bounds]) -> dict[str, int]:
    """Failing rows of each rule that Great Expectations has an expectation for, counted by it.

    Empty for a table without rows, or too large for a data frame.
    """
    ((rows,),) = db.execute(f"SELECT count(*) FROM {table}").fetchall()
    if not 0 < rows <= MOST_ROWS:
        return {}
    columns = ", ".join(f'"{name}"' for name, _ in schema.stored_columns(schema.TABLES[table]))
    frame = db.sql(f"SELECT {columns} FROM {table}").to_arrow_table().to_pandas(types_mapper=arrow_type)
    return failed_in(frame, rules, bounds)


def arrow_type(kind):
    import pandas as pd

    return pd.ArrowDtype(kind)


def failed_in(frame, rules: list[Rule], bounds: dict[str, Bounds]) -> dict[str, int]:
    """The same over a frame with the table's columns."""
    asked = [expectation for rule in rules for expectation in expectations(rule, bounds)]
    counts: dict[str, int] = {}
    for result in validate(frame, asked) if asked else []:
        rule = result["expectation_config"]["meta"]["rule"]
        counts[rule] = counts.get(rule, 0) + result["result"].get("unexpected_count", 0)
    return counts


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
            narrowed = {}
            if rule.part and by:
                return []  # the animal stands in another table
            if by or rule.part:
                narrowed["row_condition"] = Column(by or "parameter") == (name if by else rule.part)
            found.append(
                expect.ExpectColumnValuesToBeBetween(column=value, min_value=low, max_value=high, **narrowed, **more)
            )
        return found
    pair = PAIR.fullmatch(rule.rule)
    if pair:
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
