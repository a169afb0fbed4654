"""How long the whole catalogue of checks takes, as a ratio to one plain DuckDB scan of the same tables.

    python tests/benchmarks/check_speed.py [READINGS] [ROUNDS] [FOLDER]

The plain scan computes minimum, maximum and number of blanks of every column of every table. Both run in processes
of their own, turn about, on one database file. Great Expectations judges in a second process, as it does for every
command; importing it there is not timed, its CPU seconds and memory are added. Beside them the rules within a row of
the readings alone, as Great Expectations' own pandas execution counts them, a million rows at a time. Prints medians,
the ratios, CPU seconds and the largest memory. A time on a busy machine says little; the ratio holds better.
"""

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import nullcontext
from pathlib import Path

PARAMETERS = {
    "heart_rate": (70, 140, 0), "respiratory_rate": (8, 28, 0), "etco2": (30, 50, 0), "fico2": (0, 4, 0),
    "spo2": (93, 100, 0), "sap": (98, 150, 0), "map": (68, 97, 0), "dap": (40, 67, 0), "temperature": (35.5, 38.5, 1),
    "agent_et": (1, 2, 1), "agent_insp": (1.2, 2.4, 1), "vaporizer_setting": (1, 3, 2), "o2_flow": (0.5, 2, 1),
}  # fmt: skip
TICKS = 31
CHUNK = 1_000_000


def build(folder: Path, readings: int) -> None:
    """A database of cases charted every five minutes, 13 parameters 31 times each, with what belongs to them."""
    from pipeline import schema
    from pipeline.database import connect

    cases = readings // (TICKS * len(PARAMETERS))
    parameters = ", ".join(f"({place}, '{name}', {low}, {high}, {decimals})"
                           for place, (name, (low, high, decimals)) in enumerate(PARAMETERS.items()))  # fmt: skip
    sheet = {"premed": -60, "preoxygenation_start": -7, "induction": 0, "intubation": 3, "vaporizer_on": 5,
             "procedure_start": 20, "procedure_end": 140, "vaporizer_off": 150, "ventilator_off": 151,
             "spontaneous_breathing": 152, "extubation": 155, "sternal": 160, "standing": 170,
             "recovery_end": 180}  # fmt: skip
    times = ", ".join(f"t + to_minutes({at}) AS {name}_at" for name, at in sheet.items())
    with connect(folder / "rounds.duckdb") as db:
        for table in schema.TABLES.values():
            db.execute(schema.create_table(table))
        db.execute("CREATE TABLE files AS SELECT range AS file_id, 'export.csv' AS name, "
                   "TIMESTAMP '2040-01-01' AS loaded_at FROM range(1, 200)")  # fmt: skip
        db.execute(
            f"""INSERT INTO cases BY NAME SELECT printf('A%d-%05d', 24 + i // 20000, i % 20000) AS case_id,
            'P' || i AS patient_id, ['dog', 'cat', 'rabbit'][1 + i % 3] AS species, 'mixed' AS breed,
            'male' AS sex, 3 + i % 9 AS age_years,
            CASE i % 3 WHEN 0 THEN 20 + i % 7 ELSE 4 END AS weight_kg, 1 + hash(i, 1) % 4 AS asa_class,
            FALSE AS emergency, 'dental' AS procedure, 'dental' AS procedure_group, 8 AS fasting_hours,
            'N' || i % 40 AS anesthetist, 'S' || i % 9 AS supervisor, 'M' || i % 12 AS machine_id,
            'rebreathing' AS breathing_system, 1000 AS bag_ml, 'assisted' AS ventilation, 'tracheal_tube' AS airway,
            5 AS tube_id_mm, 'isoflurane' AS agent, {times}, 'alive' AS outcome, 1 AS source_file, i + 2 AS source_row
            FROM (SELECT i, TIMESTAMP '2024-01-01 08:07' + to_minutes(25 * i) AS t FROM range({cases}) AS r(i))"""
        )
        # Values drift and swing as an animal's do; the rows stand as an export has them, by case and time.
        db.execute(
            f"""INSERT INTO vitals BY NAME SELECT * EXCLUDE (place), row_number() OVER () + 1 AS source_row FROM (
            SELECT case_id, induction_at + to_minutes(5 * k) AS taken_at, parameter, place,
            CASE WHEN hash(case_id, k, place) % 500 = 0 THEN NULL
                WHEN hash(case_id, k, place, 7) % 20000 = 0 THEN high * 9
                ELSE round(low + (high - low) * (0.5 + 0.35 * sin(hash(case_id, place) % 7 + k / 9.0)
                    + (hash(case_id, k, place, 1) % 100)::DOUBLE / 400 - 0.125), decimals) END AS value,
            1 + source_row // 2000 AS source_file
            FROM cases CROSS JOIN range({TICKS}) AS ticks(k)
            CROSS JOIN (VALUES {parameters}) AS asked(place, parameter, low, high, decimals)
            ORDER BY source_row, k, place)"""
        )
        db.execute(
            """INSERT INTO drugs BY NAME SELECT case_id, drug, kind, phase, route, amount, amount_unit,
            induction_at + to_minutes(at_min) AS given_at,
            CASE kind WHEN 'infusion' THEN vaporizer_off_at END AS stopped_at, 'N1' AS given_by, 1 AS source_file,
            row_number() OVER () + 1 AS source_row
            FROM cases CROSS JOIN (VALUES
                ('methadone', 'bolus', 'premedication', 'im', 0.3, 'mg/kg', -50),
                ('propofol', 'bolus', 'induction', 'iv', 4.0, 'mg/kg', 0),
                ('fentanyl', 'infusion', 'maintenance', 'iv', 5.0, 'mcg/kg/h', 10),
                ('meloxicam', 'bolus', 'recovery', 'sc', 0.2, 'mg/kg', 140)
            ) AS given(drug, kind, phase, route, amount, amount_unit, at_min)"""
        )
        db.execute(
            """INSERT INTO events BY NAME SELECT case_id, 'hypotension' AS event, induction_at + to_minutes(40) AS
            occurred_at, 'minor' AS severity, 1 AS source_file, source_row FROM cases WHERE source_row % 3 = 0"""
        )
        db.execute(
            """INSERT INTO equipment BY NAME SELECT machine_id, induction_at - to_minutes(90) AS "at",
            'breathing_system' AS item, 'leak_tested' AS action, 100 AS value, 'mL/min' AS unit, 'N1' AS person,
            1 AS source_file, source_row FROM cases"""
        )
        db.execute(
            """INSERT INTO stock BY NAME SELECT 'propofol' AS item, induction_at AS "at", 'opened' AS movement,
            20 AS quantity, 'mL' AS unit, 1 AS source_file, source_row FROM cases WHERE source_row % 5 = 0"""
        )
        for table in schema.TABLES.values():
            clocks = [column.name for column in table.columns if column.kind == "time"]
            sets = ", ".join(f'CAST(epoch("{name}") AS BIGINT) AS "{name}_s"' for name in clocks)
            db.execute(f"CREATE OR REPLACE TABLE {table.name} AS SELECT * REPLACE ({sets}) FROM {table.name}")
        db.execute("CHECKPOINT")


def plain(db, second) -> None:
    """Minimum, maximum and blanks of every column of every table, one scan a table."""
    from pipeline import schema

    for table in schema.TABLES.values():
        columns = [f'"{name}"' for name, _ in schema.stored_columns(table)]
        asked = ", ".join(f"min({name}), max({name}), count(*) - count({name})" for name in columns)
        db.execute(f"SELECT {asked} FROM {table.name}").fetchall()


def checks(db, second) -> None:
    """The whole catalogue."""
    from pipeline import checks
    from pipeline.settings import Settings

    verdicts = checks.run(db, Settings(zone="UTC"), None, second)
    assert not verdicts.count("could_not_run"), verdicts.sentences()


def pandas(db, second) -> None:
    """Great Expectations' own execution of the rules within a row of the readings that it has words for."""
    from pipeline.checks import catalogue, conditions, native
    from pipeline.settings import Settings

    inputs_of(db, Settings(zone="UTC"))
    bounds = conditions.load_bounds(db)
    rules = [rule for rule in catalogue.rules() if rule.table == "vitals" and rule.within_row]
    rows = db.execute("SELECT count(*) FROM vitals").fetchall()[0][0]
    for start in range(0, rows, CHUNK):
        rows_of = f"(SELECT * FROM vitals LIMIT {CHUNK} OFFSET {start})"
        chunk = db.sql(f"SELECT * FROM {rows_of} LEFT JOIN (SELECT case_id, species, agent FROM cases) USING (case_id)")
        chunk = chunk.to_arrow_table()
        native.failed_in(chunk.to_pandas(types_mapper=native.arrow_type), rules, bounds)


def inputs_of(db, chosen) -> None:
    from pipeline.models.seeds import load_seeds

    load_seeds(db, chosen)


def used() -> tuple[int, float, float]:
    """This process: its number, CPU seconds and largest memory in MB."""
    return os.getpid(), time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure(folder: Path, way: str) -> None:
    """Runs one way and prints its figures."""
    from pipeline.beside import Here, beside
    from pipeline.checks import judge
    from pipeline.database import connect

    judge.quiet_context()
    with beside() if way == "checks" else nullcontext(Here()) as second, connect(folder / "rounds.duckdb") as db:
        second.submit(judge.ready).result()
        before = {number: cpu for number, cpu, _ in (used(), second.submit(used).result())}
        wall = time.perf_counter()
        {"plain": plain, "checks": checks, "pandas": pandas}[way](db, second)
        wall = time.perf_counter() - wall
        after = {number: (cpu, peak) for number, cpu, peak in (used(), second.submit(used).result())}
    cpu = sum(after[number][0] - before[number] for number in after)
    print(json.dumps({"wall": wall, "cpu": cpu, "peak": sum(peak for _, peak in after.values())}))


def main(readings: int, rounds: int, folder: Path) -> None:
    # Built in a process of its own: a child's largest memory counts from its parent's.
    subprocess.run([sys.executable, __file__, "--build", str(readings), str(folder)], check=True)
    found = {"plain": [], "checks": [], "pandas": []}
    for number in range(rounds):
        for way, runs in found.items():
            if way == "pandas" and number:
                continue
            said = subprocess.run(
                [sys.executable, __file__, "--measure", way, str(folder)], check=True, capture_output=True, text=True
            )
            runs.append(json.loads(said.stdout))
    print(f"{readings:,} readings, {rounds} rounds")
    for way, runs in found.items():
        middle = {name: statistics.median(run[name] for run in runs) for name in ("wall", "cpu", "peak")}
        ratio = middle["wall"] / statistics.median(run["wall"] for run in found["plain"])
        print(f"{way:8} {middle['wall']:8.2f} s  CPU {middle['cpu']:8.2f} s  peak {middle['peak']:6.0f} MB  "
              f"ratio {ratio:6.2f}")  # fmt: skip


if __name__ == "__main__":
    if sys.argv[1:2] == ["--measure"]:
        measure(Path(sys.argv[3]), sys.argv[2])
    elif sys.argv[1:2] == ["--build"]:
        build(Path(sys.argv[3]), int(sys.argv[2]))
    else:
        asked = [int(text) for text in sys.argv[1:3]]
        with tempfile.TemporaryDirectory() as made:
            main(*(asked + [2_000_000, 3][len(asked) :]), Path(sys.argv[3] if len(sys.argv) > 3 else made))
