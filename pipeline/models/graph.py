"""Which model reads which, asked of DuckDB's own parser, so that no build order is kept by hand."""

import json
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import duckdb

from pipeline.shipped import folder


def model_files(*layers: str) -> dict[str, Path]:
    """Model name -> SQL file, of the layers given (folders of sql/models), or of all."""
    root = folder("sql") / "models"
    found = sorted(path for path in root.rglob("*.sql") if not layers or path.parent.name in layers)
    return {path.stem: path for path in found}


@cache
def tables_read(sql: str) -> set[str]:
    """Names of the tables a SELECT reads, less the names it defines in its own WITH.

    >>> sorted(tables_read("with a as (select * from stg_cases) select * from a join stg_vitals using (case_id)"))
    ['stg_cases', 'stg_vitals']
    """
    with _parser().cursor() as parser:  # models may be built in two threads
        tree = json.loads(parser.execute("select json_serialize_sql(?)", [sql]).fetchone()[0])
    if tree["error"]:
        raise ValueError(tree["error_message"])
    read, defined = set(), set()

    def visit(node):
        if isinstance(node, dict):
            if node.get("type") == "BASE_TABLE":
                read.add(node["table_name"])
            defined.update(entry["key"] for entry in node.get("cte_map", {}).get("map", []))
            node = node.values()
        elif not isinstance(node, list):
            return
        for child in node:
            visit(child)

    visit(tree)
    return read - defined


@cache
def _parser():
    """One connection for every model: to open one takes longer than to parse ten."""
    return duckdb.connect()


def build_order(models: dict[str, Path]) -> list[str]:
    """Names of the models, each after those it reads. Raises graphlib.CycleError on a circle."""
    reads = {name: tables_read(path.read_text(encoding="utf-8")) & models.keys() for name, path in models.items()}
    return list(TopologicalSorter({name: sorted(reads[name]) for name in sorted(reads)}).static_order())
