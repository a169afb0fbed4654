"""Every model says what it is, says truly what it reads, and keeps to the SQL that two engines share."""

import re
from pathlib import Path

import pytest
import sqlglot
from sqlglot import exp

from pipeline.models.graph import model_files, tables_read
from pipeline.models.seeds import read_seed, seed_names

MODELS = sorted(model_files().values())
FUNCTIONS = {
    "sum", "count", "min", "max", "avg", "lag", "lead", "rownumber", "coalesce", "nullif", "least", "greatest",
    "floor", "ceil", "abs", "percentilecont", "pow", "power", "lower", "case", "cast", "if", "and", "or", "concat",
    "trim", "splitpart", "year", "month", "sqrt", "exp", "ln", "round",
}  # fmt: skip
TYPES = ("BIGINT", "INT", "DOUBLE", "DATE", "TEXT")
FORBIDDEN = ("Qualify", "Lambda", "Struct", "Array", "List", "Unnest", "Explode", "Pivot", "Lateral", "Interval",
             "Columns")  # fmt: skip


@pytest.mark.parametrize("path", MODELS, ids=lambda path: path.stem)
def test_header_is_complete_and_true(path):
    sql = path.read_text(encoding="utf-8")
    assert sql.startswith(f"-- {path.stem}: ")
    said = dict(re.findall(r"^-- (Grain|Reads|Units|Source) +(.+)$", sql, re.MULTILINE))
    assert said.keys() == {"Grain", "Reads", "Units", "Source"}
    assert set(said["Reads"].split(", ")) == tables_read(sql)


def faults(sql: str):
    """What in a model lies outside the portable subset."""
    tree = sqlglot.parse_one(sql, read="duckdb")
    if not isinstance(tree, exp.Select | exp.Union):
        yield "not one SELECT"
    for node in tree.walk():
        kind = type(node).__name__
        if kind in FORBIDDEN or (kind == "Star" and not isinstance(node.parent, exp.Count)):
            yield kind
        if isinstance(node, exp.Join) and (node.method or node.args.get("using")):
            yield f"JOIN {node.method or 'USING'}"
        if isinstance(node, exp.Identifier) and node.quoted:
            yield f"quoted name {node.name}"
        if is_decimal(node) and not node.find_ancestor(exp.WithinGroup, exp.PercentileCont):
            yield f"decimal literal {node.name}"
        if isinstance(node, exp.Cast) and node.to.this.name not in TYPES:
            yield f"CAST AS {node.to.sql()}"
        if isinstance(node, exp.Window) and needs_frame(node) and not node.args.get("spec"):
            yield f"window without a ROWS frame: {node.sql()[:60]}"
        if isinstance(node, exp.Div) and not isinstance(node.expression, exp.Nullif | exp.Literal):
            yield f"division by {node.expression.sql()[:40]} without nullif"
        if isinstance(node, exp.Func) and not isinstance(node, exp.And | exp.Or):
            name = node.name if isinstance(node, exp.Anonymous) else kind
            if name.lower().replace("_", "") not in FUNCTIONS:
                yield f"function {name}"
        if isinstance(node, exp.Distinct) and node.args.get("on"):
            yield "DISTINCT ON"


def is_decimal(node) -> bool:
    return isinstance(node, exp.Literal) and node.is_number and "." in node.name and "e" not in node.name.lower()


def needs_frame(node) -> bool:
    running = isinstance(node.this, exp.AggFunc) and not isinstance(node.this, exp.Lag | exp.Lead | exp.RowNumber)
    return running and bool(node.args.get("order"))


@pytest.mark.parametrize("path", MODELS, ids=lambda path: path.stem)
def test_keeps_to_the_portable_subset(path):
    assert sorted(set(faults(path.read_text(encoding="utf-8")))) == []


@pytest.mark.parametrize(
    "sql, fault",
    [
        ("SELECT a FROM t QUALIFY row_number() OVER (ORDER BY a) = 1", "Qualify"),
        ("SELECT a / b AS c FROM t", "division by b"),
        ("SELECT sum(a) OVER (ORDER BY b) AS c FROM t", "window without"),
        ("SELECT date_diff('minute', a, b) AS c FROM t", "function"),
        ("SELECT 1.5 AS c FROM t", "decimal literal"),
        ("SELECT a FROM t ASOF JOIN u ON t.a >= u.a", "JOIN"),
        ('SELECT "time" FROM t', "quoted name"),
    ],
)
def test_the_subset_is_enforced(sql, fault):
    assert any(found.startswith(fault) for found in faults(sql))


@pytest.mark.parametrize("name", [name for name in seed_names() if name != "measures"])
def test_every_seed_row_names_its_source(name):
    assert [row for row in read_seed(name) if not row.get("source")] == []


def test_no_model_is_longer_than_two_pages():
    assert [path.name for path in MODELS if len(Path(path).read_text(encoding="utf-8").splitlines()) > 180] == []
