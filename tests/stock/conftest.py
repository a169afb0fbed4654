"""Small text tables in, rows of one stock model out. Times are written out; the zone is UTC."""

from datetime import datetime
from functools import cache
from types import SimpleNamespace

import duckdb
import pytest

from pipeline import models, schema
from pipeline.models import load_seeds
from pipeline.models.graph import model_files, tables_read
from pipeline.settings import from_dict
from pipeline.stock.items import write_items

SQL = {name: path.read_text(encoding="utf-8") for name, path in model_files("20_cases", "50_stock").items()}


@cache
def upstream(model: str) -> tuple[str, ...]:
    """The models to build for one model, in order, itself last; staging is there already."""
    if model not in SQL:
        return ()
    before = [name for read in sorted(tables_read(SQL[model])) for name in upstream(read)]
    return tuple(dict.fromkeys([*before, model]))


def typed(column: schema.Column, cell: str):
    if cell == "":
        return None
    if column.kind == "number":
        return float(cell)
    return datetime.fromisoformat(cell) if column.kind == "time" else cell


def fill(db, name: str, text: str) -> None:
    """Rows of a `name | name` table into a canonical table; an empty cell is NULL."""
    table = schema.TABLES[name]
    head, *lines = [[cell.strip() for cell in line.split("|")] for line in text.strip().splitlines()]
    rows = []
    for place, line in enumerate(lines, start=2):
        row = {"source_file": 1, "source_row": place}
        for column, cell in zip(head, line, strict=True):
            row[column] = typed(table.column(column), cell)
            if table.column(column).kind == "time":
                row[f"{column}_s"] = row[column] and int((row[column] - datetime(1970, 1, 1)).total_seconds())
        rows.append(tuple(row.values()))
    names = ", ".join(f'"{column}"' for column in row)
    db.executemany(f"INSERT INTO {name} ({names}) VALUES ({', '.join('?' * len(row))})", rows)


@pytest.fixture(scope="session")
def empty():
    """A database with empty canonical tables, the seeds as shipped, and the staging views."""
    with duckdb.connect(config={"threads": 1}) as db:
        models.prepare(db, from_dict({"zone": "UTC"}))
        yield db


@pytest.fixture
def store(empty):
    """store(stock='...', items={...}, settings={...}) -> an object whose rows(model, **where) are dicts, and whose
    refill(stock='...') puts other rows in their place."""

    def build(items: dict | None = None, settings: dict | None = None, **tables: str):
        chosen = from_dict({"zone": "UTC", "items": items or {}, **(settings or {})})
        load_seeds(empty, chosen)
        write_items(empty, chosen)
        built = set()

        def refill(**tables: str) -> None:
            built.clear()
            for name, text in tables.items():
                empty.execute(f"DELETE FROM {name}")
                fill(empty, name, text)

        def rows(model: str, **where) -> list[dict]:
            for name in upstream(model):
                if name not in built:
                    empty.execute(f"CREATE OR REPLACE TABLE {name} AS {SQL[name]}")
                    built.add(name)
            asked = " AND ".join(f"{name} = ?" for name in where) or "TRUE"
            answer = empty.execute(f"SELECT * FROM {model} WHERE {asked} ORDER BY ALL", list(where.values()))
            names = [column[0] for column in answer.description]
            return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]

        for name in schema.TABLES:
            empty.execute(f"DELETE FROM {name}")
        refill(**tables)
        return SimpleNamespace(rows=rows, refill=refill, db=empty, settings=chosen)

    return build
