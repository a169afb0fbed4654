"""The quality page of a clinic of ten years, 3,000 cases a year: seconds after the results are computed, and sizes.

    python tests/benchmarks/page_speed.py [FOLDER]

A FOLDER with a database in it is taken as it is; else the clinic (about 7 million readings) is invented, loaded and
computed there, which takes minutes, and kept. Prints seconds and bytes; nothing is asserted.
"""

import gzip
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from pipeline import database, intake, measures, models, settings
from pipeline.simulate import write_clinic


def build(clinic: Path) -> None:
    """The clinic, from nothing to its results."""
    if not (clinic / settings.FILE).exists():
        write_clinic(clinic, months=120, cases=30_000)
    chosen = settings.read(clinic / settings.FILE)
    with database.connect(clinic / database.FILE) as db:
        intake.load(db, chosen, clinic, None, None)
        models.prepare(db, chosen)
        models.build(db, chosen)
        measures.compute(db, chosen)


def measure(clinic: Path) -> None:
    """Writes the page and what stands beside it, and prints what that took; imports are part of it."""
    chosen = settings.read(clinic / settings.FILE)
    with database.connect(clinic / database.FILE) as db:
        (cases,) = db.execute("SELECT count(*) FROM case_windows").fetchone()
        (readings,) = db.execute("SELECT count(*) FROM vital_readings").fetchone()
        print(f"{cases:,} cases, {readings:,} readings")
        wall, cpu = time.perf_counter(), time.process_time()
        from pipeline import reporting

        written = reporting.write(db, chosen, clinic, ["quality"])
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    print(f"written in {wall:.2f} s, {cpu:.2f} s of processor time")
    for path in written:
        if path.suffix in (".html", ".xlsx"):
            whole = path.read_bytes()
            print(f"{path.name:24s} {len(whole):>10,} bytes, zipped {len(gzip.compress(whole, 9, mtime=0)):>10,}")


def main(clinic: Path) -> None:
    # Each in a process of its own, so that the page is written as a command writes it.
    parts = ["--measure"] if (clinic / database.FILE).exists() else ["--build", "--measure"]
    for part in parts:
        subprocess.run([sys.executable, __file__, part, str(clinic)], check=True)


if __name__ == "__main__":
    if sys.argv[1:2] in (["--build"], ["--measure"]):
        {"--build": build, "--measure": measure}[sys.argv[1]](Path(sys.argv[2]))
    else:
        with tempfile.TemporaryDirectory() as made:
            main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(made))
