"""The table `results` as a file: CSV, JSON, Parquet or XLSX."""

import json
import tempfile
from pathlib import Path

from pipeline import database

# By place in the list of measures; months, the last 12 of them, all.
IN_ORDER = """
    SELECT results.* FROM results
    LEFT JOIN (SELECT measure, row_number() OVER (ORDER BY rowid) AS place FROM seed_measures) AS listed USING (measure)
    ORDER BY place NULLS LAST, measure, CASE length(period) WHEN 7 THEN 1 WHEN 3 THEN 3 ELSE 2 END, period, "by", level
"""


def write_results(clinic: Path, kind: str, out) -> int:
    """Writes `results` to a path or a binary stream as csv, json, parquet or xlsx; returns the number of rows."""
    with database.connect(clinic / database.FILE, read_only=True) as db:
        content = {"csv": as_csv, "json": as_json, "parquet": as_parquet, "xlsx": as_xlsx}[kind](db)
        rows = db.execute("SELECT count(*) FROM results").fetchone()[0]
    if isinstance(out, Path):
        out.write_bytes(content)
    else:
        out.write(content)
        out.flush()
    return rows


def as_csv(db) -> bytes:
    """UTF-8, comma, a header, NULL as an empty cell."""
    return _copied(db, "csv", "FORMAT csv, HEADER")


def as_parquet(db) -> bytes:
    return _copied(db, "parquet", "FORMAT parquet")


def as_json(db) -> bytes:
    """One list of objects; NULL is null."""
    found = db.execute(IN_ORDER)
    names = [column[0] for column in found.description]
    rows = [dict(zip(names, row, strict=True)) for row in found.fetchall()]
    return (json.dumps(rows, ensure_ascii=False, indent=0) + "\n").encode()


def as_xlsx(db) -> bytes:
    """One sheet; text is never a formula."""
    import io

    import xlsxwriter

    stream = io.BytesIO()
    plain = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False, "in_memory": True}
    found = db.execute(IN_ORDER)
    with xlsxwriter.Workbook(stream, plain) as book:
        sheet = book.add_worksheet("results")
        sheet.freeze_panes(1, 1)
        sheet.write_row(0, 0, [column[0] for column in found.description], book.add_format({"bold": True}))
        for place, row in enumerate(found.fetchall(), start=1):
            sheet.write_row(place, 0, row)
    return stream.getvalue()


def _copied(db, suffix: str, options: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"results.{suffix}"
        db.execute(f"COPY ({IN_ORDER}) TO $path ({options})", {"path": str(path)})
        return path.read_bytes()
