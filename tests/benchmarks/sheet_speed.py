"""XLSX of 100,000 rows: our reader, and the whole load, against python-calamine reading it into Python rows.

Run: python tests/benchmarks/sheet_speed.py [rows]. Rounds alternate; the ratios of the middle times are printed.
"""

import datetime as dt
import statistics
import sys
import tempfile
import time
from pathlib import Path

import python_calamine
import xlsxwriter

from pipeline import intake
from pipeline.database import connect
from pipeline.intake import readers
from pipeline.intake.mapping.clinic_file import Mapping
from pipeline.settings import Settings

ROUNDS = 5


def write(path: Path, rows: int) -> None:
    """Long vitals: an id, a typed time, a parameter, a number, a note."""
    with xlsxwriter.Workbook(str(path), {"constant_memory": True, "default_date_format": "yyyy-mm-dd hh:mm"}) as book:
        sheet = book.add_worksheet("vitals")
        sheet.write_row(0, 0, ["case_id", "taken_at", "parameter", "value", "note"])
        start, names = dt.datetime(2026, 1, 1), ("heart_rate", "spo2", "map", "etco2", "temperature")
        for number in range(rows):
            case, step = divmod(number, 100)
            sheet.write(number + 1, 0, f"C{case:05d}")
            sheet.write_datetime(number + 1, 1, start + dt.timedelta(hours=case, minutes=step // 5 * 5))
            sheet.write(number + 1, 2, names[step % 5])
            sheet.write(number + 1, 3, (37 + step % 7 / 10) if step % 5 == 4 else 80 + step % 30)
            sheet.write(number + 1, 4, f"note {number % 50}")


def plain(path: Path) -> None:
    python_calamine.CalamineWorkbook.from_path(str(path)).get_sheet_by_index(0).to_python()


def read(path: Path) -> None:
    readers.read(path, Mapping())


def load(path: Path, db) -> None:
    intake.load(db, Settings(zone="Europe/Berlin"), path.parent, [path])


def with_cases(rows: int, folder: Path):
    """A database that has the cases of the readings; loading them is not timed."""
    opened = connect(":memory:")
    db = opened.__enter__()
    lines = [f"C{case:05d},dog,2026-01-01 08:00" for case in range(rows // 100 + 1)]
    (folder / "cases.csv").write_text("\n".join(["case_id,species,induction_at", *lines]) + "\n", encoding="utf-8")
    intake.load(db, Settings(zone="Europe/Berlin"), folder, [folder / "cases.csv"])
    return opened, db


def timed(work, *given) -> float:
    began = time.perf_counter()
    work(*given)
    return time.perf_counter() - began


def main() -> None:
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "vitals.xlsx"
        write(path, rows)
        taken: dict[str, list[float]] = {work.__name__: [] for work in (plain, read, load)}
        for _ in range(ROUNDS):
            for work in (plain, read):
                taken[work.__name__].append(timed(work, path))
            opened, db = with_cases(rows, Path(folder))
            taken["load"].append(timed(load, path, db))
            opened.__exit__(None, None, None)
    middle = {name: statistics.median(seconds) for name, seconds in taken.items()}
    for name, seconds in middle.items():
        print(f"{name:6} {seconds:6.2f} s  {seconds / middle['plain']:.2f} x python-calamine into Python rows")


if __name__ == "__main__":
    main()
