"""Sheets of quarantined rows: the original cells with the problem beside them. Mended and put in exports/, they load.

One sheet a table, wide vitals in a sheet of their own. Rows that only wait for a quarantined case
are left out: they load by themselves. Text that a spreadsheet would run as a formula is defused
with an apostrophe, which loading takes off again.
"""

import csv
import hashlib
import io
import json
import re
from pathlib import Path

from pipeline import schema
from pipeline.intake.headers import MENDING, columns_of

FOLDER = "to_fix"
# What our sheets have in their names.
SHEET = "_to_fix"
# More rows than this are no longer mended by hand.
MOST_ROWS = 5000
# Rows whose case is in quarantine itself load when that is mended.
MENDABLE = """NOT (q.rule = 'no_such_case' AND q.case_id IN (
  SELECT case_id FROM quarantine WHERE table_name = 'cases' AND case_id IS NOT NULL))"""
RUNS = re.compile(r"[=+\-@\t\r]")
NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)*(?:[eE][+-]?\d+)?%?")


def defused(text: str | None) -> str:
    """A cell for a sheet people open: text that would run as a formula gets an apostrophe, numbers do not.

    >>> defused("=1+1"), defused("-3.5"), defused("- none")
    ("'=1+1", '-3.5', "'- none")
    """
    text = text or ""
    return f"'{text}" if RUNS.match(text.lstrip("'")) and not NUMBER.fullmatch(text) else text


def as_written(text: str | None) -> str | None:
    """A cell of such a sheet as it was before defused."""
    return text[1:] if text and text[0] == "'" and RUNS.match(text.lstrip("'")) else text


def write(db, clinic: Path, decimal: str = ".") -> tuple[list[str], list[str]]:
    """Writes, renews or removes the sheets in the clinic's to_fix/.

    Returns the names of those that hold rows, and a sentence for each table with more rows than a sheet takes.

    decimal: the decimal sign of the clinic's spreadsheets; with a comma, cells are parted by semicolons.
    A sheet that somebody has changed since it was written is left alone; the new one goes beside it.
    """
    known = dict(db.execute("SELECT name, sha256 FROM fix_sheets").fetchall())
    written = {}
    for name, text in _sheets(db, decimal).items():
        data = text.encode("utf-8-sig")
        written[_put(clinic / FOLDER, name, data, known)] = hashlib.sha256(data).hexdigest()
    for name in known.keys() - written.keys():
        path = clinic / FOLDER / name
        if path.is_file() and _digest(path) == known[name]:
            path.unlink()
    db.execute("DELETE FROM fix_sheets")
    if written:
        db.executemany("INSERT INTO fix_sheets VALUES (?, ?)", list(written.items()))
    return list(written), _too_many(db)


def _too_many(db) -> list[str]:
    """Sentences for tables whose quarantine is too large to mend by hand."""
    counted = db.execute(
        f"""SELECT table_name, count(*) FROM quarantine AS q WHERE {MENDABLE}
            GROUP BY table_name HAVING count(*) > {MOST_ROWS} ORDER BY table_name"""
    ).fetchall()
    return [
        f"{table}: {count:,} rows are in quarantine; the sheet for mending holds the first {MOST_ROWS:,}. "
        "So many are better mended in the export."
        for table, count in counted
    ]


def _put(folder: Path, name: str, data: bytes, known: dict[str, str]) -> str:
    """Writes a sheet under the first name that is free or holds what we wrote; returns that name."""
    folder.mkdir(parents=True, exist_ok=True)
    stem, number = name.removesuffix(".csv"), 1
    while True:
        chosen = name if number == 1 else f"{stem}_{number}.csv"
        path = folder / chosen
        if not path.exists() or _digest(path) in (known.get(chosen), hashlib.sha256(data).hexdigest()):
            break
        number += 1
    fresh = path.with_name(f".{chosen}.new")
    fresh.write_bytes(data)
    Path(fresh).replace(path)
    return chosen


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _sheets(db, decimal: str) -> dict[str, str]:
    """File name -> text of every sheet that has rows."""
    sheets = {}
    for table in schema.TABLES:
        rows = db.execute(
            f"""
            SELECT q.name, q."row", q.reason, q.proposal, q.raw, f.decimal_sign, f.facts
            FROM quarantine AS q LEFT JOIN files AS f USING (file_id)
            WHERE q.table_name = ? AND {MENDABLE}
            ORDER BY q.file_id, q."row" LIMIT ?
            """,
            [table, MOST_ROWS + 1],
        ).fetchall()
        by_sheet: dict[str, list] = {}
        for row in rows[:MOST_ROWS]:
            cells = {name: _as_sheets_have_it(table, name, cell, row, decimal) for name, cell in _cells(row[4]).items()}
            wide = table == "vitals" and bool(cells.keys() & schema.PARAMETERS.keys())
            by_sheet.setdefault(f"{table}_wide{SHEET}.csv" if wide else f"{table}{SHEET}.csv", []).append((row, cells))
        for name, found in by_sheet.items():
            sheets[name] = _text(table, found, ";" if decimal == "," else ",")
    return sheets


def _cells(raw: str | None) -> dict[str, str | None]:
    """The cells of a quarantined row; none where the line could not be cut into cells."""
    try:
        cells = json.loads(raw or "{}")
    except json.JSONDecodeError:
        return {}
    return cells if isinstance(cells, dict) else {}


def _as_sheets_have_it(table: str, name: str, cell: str | None, row: tuple, decimal: str) -> str | None:
    """A readable number with the sheet's decimal sign, a readable date year first: one sheet gathers many files."""
    column = columns_of(table).get(name)
    if cell is None or column is None:
        return cell
    sign, facts = row[5] or ".", json.loads(row[6] or "{}")
    if column.kind == "number" and sign != decimal and re.fullmatch(rf"\s*[+-]?\d+[{sign}]\d+\s*", cell):
        return cell.replace(sign, decimal)
    slashed = re.fullmatch(r"\s*(\d{1,2})/(\d{1,2})/(\d{4})(.*)", cell)
    if column.kind in ("time", "day") and slashed and facts.get("dates"):
        day, month = slashed.group(1, 2) if facts["dates"] == "dmy" else slashed.group(2, 1)
        return f"{slashed[3]}-{month:0>2}-{day:0>2}{slashed[4]}"
    return cell


def _text(table: str, found: list, separator: str) -> str:
    """One sheet: what is wrong and where it stood, then the table's columns as far as any row has them."""
    present = {name for _, cells in found for name in cells}
    wide = bool(present & schema.PARAMETERS.keys()) and table == "vitals"
    columns = [
        name for name in columns_of(table) if name in present or (not wide and name in schema.TABLES[table].required)
    ]
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator, lineterminator="\r\n")
    writer.writerow([*MENDING, *columns])
    for (name, row, reason, proposal, *_), cells in found:
        writer.writerow([defused(cell) for cell in (reason, proposal, name, str(row), *map(cells.get, columns))])
    return text.getvalue()
