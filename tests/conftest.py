"""Small text tables in, rows of one model out. Times are clock times of one day in March 2026, in UTC."""

import re
import sys
from datetime import UTC, datetime, timedelta
from functools import cache
from types import SimpleNamespace

import duckdb
import pytest

from pipeline import measures, models, schema
from pipeline.models.graph import model_files, tables_read
from pipeline.settings import from_dict

# A worker of pytest-xdist has a main module without a file. Where pyspark is installed, great_expectations imports it,
# and pyspark takes such a process for a doctest run and ends it.
if not hasattr(sys.modules["__main__"], "__file__"):
    sys.modules["__main__"].__file__ = __file__

# Every folder has a conftest of its own; none holds doctests.
collect_ignore_glob = ["*conftest.py"]


def pytest_terminal_summary(terminalreporter):
    """Tests that record a property 'listed' are listed at the end of the run: number, what became of it, in words."""
    lines = {}
    for outcome in ("passed", "failed", "error", "skipped"):
        for report in terminalreporter.stats.get(outcome, []):
            for name, (order, number, words) in getattr(report, "user_properties", ()):
                if name == "listed":
                    lines[tuple(order)] = f"{number:>4}  {outcome:<7} {words}"
    if lines:
        terminalreporter.section("faults of exports: number, what became of its fixture, class asked for, what it is")
        for _, line in sorted(lines.items()):
            terminalreporter.write_line(line)


SQL = {name: path.read_text(encoding="utf-8") for name, path in model_files("20_cases", "30_measures").items()}


@cache
def upstream(model: str) -> tuple[str, ...]:
    """The models to build for one model, in order, itself last; staging is there already."""
    if model not in SQL:
        return ()
    before = [name for read in sorted(tables_read(SQL[model])) for name in upstream(read)]
    return (*dict.fromkeys(before), model)


DAY = datetime(2026, 3, 2, tzinfo=UTC)


def moment(text: str) -> datetime:
    """'8:05' or '8:05:30' of the day; '+1 8:05' of the next; a whole date as it stands."""
    if "-" in text:
        return datetime.fromisoformat(text).replace(tzinfo=UTC)
    days, clock = text.split() if " " in text else ("0", text)
    parts = [int(part) for part in clock.split(":")]
    return DAY + timedelta(days=int(days), **dict(zip(("hours", "minutes", "seconds"), parts, strict=False)))


def read_text_table(table: schema.Table, text: str) -> list[dict]:
    """Rows of a `name | name` table, typed by the schema; an empty cell is NULL."""
    head, *lines = [[cell.strip() for cell in line.split("|")] for line in text.strip().splitlines()]
    rows = []
    for place, line in enumerate(lines, start=2):
        row = {"source_file": 1, "source_row": place}
        for name, cell in zip(head, line, strict=True):
            column = table.column(name)
            if cell == "":
                row[name] = None
            elif column.kind == "time":
                row[name] = moment(cell).replace(tzinfo=None)
                row[f"{name}_s"] = int(moment(cell).timestamp())
            elif column.kind == "number":
                row[name] = float(cell)
            elif column.kind == "yes_no":
                row[name] = cell == "yes"
            else:
                row[name] = cell
        rows.append(row)
    return rows


def load_text_tables(db, tables: dict[str, str]) -> None:
    """Writes canonical tables from text."""
    for table in schema.TABLES.values():
        db.execute(schema.create_table(table))
        for row in read_text_table(table, tables[table.name]) if table.name in tables else []:
            names = ", ".join(f'"{name}"' for name in row)
            places = ", ".join("?" * len(row))
            db.execute(f"INSERT INTO {table.name} ({names}) VALUES ({places})", list(row.values()))
    db.execute("CREATE TABLE quarantine (table_name VARCHAR, month_no BIGINT, site VARCHAR)")


@pytest.fixture
def clinic():
    """clinic(cases='...', vitals='...', settings={...}) -> an object whose rows(model, **where) are dicts."""
    opened = []

    def build(settings: dict | None = None, **tables: str):
        db = duckdb.connect()
        opened.append(db)
        load_text_tables(db, tables)
        chosen = from_dict({"zone": "UTC", **(settings or {})})
        models.prepare(db, chosen)
        built = set()

        def rows(model: str, **where) -> list[dict]:
            for name in upstream(model):
                if name not in built:
                    db.execute(f"CREATE TABLE {name} AS {SQL[name]}")
                    built.add(name)
            asked = " AND ".join(f'"{name}" = ?' for name in where) or "TRUE"
            answer = db.execute(f"SELECT * FROM {model} WHERE {asked} ORDER BY ALL", list(where.values()))
            names = [column[0] for column in answer.description]
            return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]

        def row(model: str, **where) -> dict:
            (only,) = rows(model, **where)
            return only

        def results(month: str | None = None) -> str | None:
            models.build(db, chosen)
            return measures.compute(db, chosen, month)

        return SimpleNamespace(rows=rows, row=row, results=results, db=db, settings=chosen)

    yield build
    for db in opened:
        db.close()


def series(parameter: str, readings: str, case: str = "C1") -> str:
    """Lines of a vitals table: 'minute:value minute:value ...', minutes counted from 8:00 (-5 is 7:55)."""
    lines = []
    for minute, value in re.findall(r"(-?[\d.]+):(\S+)", readings):
        at = DAY + timedelta(hours=8, minutes=float(minute))
        lines.append(f"{case} | {at:%Y-%m-%d %H:%M:%S} | {parameter} | {value}")
    return "\n".join(lines)


def vitals(*parts: str) -> str:
    """A vitals table of several series."""
    return "\n".join(["case_id | taken_at | parameter | value", *parts])


@pytest.fixture
def tables():
    """The makers of vitals tables, for tests."""
    return SimpleNamespace(series=series, vitals=vitals)
