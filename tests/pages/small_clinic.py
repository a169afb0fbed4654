"""A clinic small enough to make in seconds and large enough for every section: canonical rows from one seed.

Invented for the tests of the pages only; its rates mean nothing.
"""

from datetime import datetime, timedelta

import duckdb
import numpy as np
import pandas as pd

from pipeline import measures, models, schema
from pipeline.database import settle
from pipeline.settings import Settings, from_dict

HOSTILE = '<img src=x onerror="window.hit=1"></script><script>window.hit=1</script> %{y} $x$ =1+1'
FIRST = datetime(2025, 8, 1)
READ = ("heart_rate", "sap", "map", "dap", "spo2", "etco2", "fico2", "respiratory_rate", "temperature",
        "vaporizer_setting", "o2_flow")  # fmt: skip


def settings(**more) -> Settings:
    return from_dict(
        {"zone": "Europe/Berlin", "name": "Lindgrund Animal Clinic", "absorbent": {"minutes_per_mark": 30}} | more
    )


def connection(cases: int = 420, days: int = 460, seed: int = 11, hostile: bool = False, given: Settings | None = None):
    """An in-memory database with the canonical tables, the models and the results of such a clinic."""
    db = duckdb.connect()
    settle(db)
    chance = np.random.default_rng(seed)
    frames = tables(chance, cases, days, hostile)
    models.prepare(db, given or settings())
    for table in schema.TABLES.values():
        insert(db, table, frames.get(table.name, pd.DataFrame()))
    db.execute("CREATE TABLE quarantine (table_name VARCHAR, case_id VARCHAR, month_no BIGINT, site VARCHAR)")
    models.build(db, given or settings())
    measures.compute(db, given or settings())
    return db


def insert(db, table, frame: pd.DataFrame) -> None:
    """The frame's columns into the table; each time also as UTC seconds, taking wall time for UTC."""
    if frame.empty:
        return
    frame = frame.assign(source_file=1, source_row=range(1, len(frame) + 1))
    names = list(frame.columns)
    times = [column.name for column in table.columns if column.kind == "time" and column.name in names]
    columns = [f'"{name}"' for name in names] + [f'"{name}_s"' for name in times]
    values = [f'"{name}"' for name in names] + [
        f'CAST(floor(epoch(CAST("{name}" AS TIMESTAMP))) AS BIGINT)' for name in times
    ]
    db.register("incoming", frame)
    db.execute(f"INSERT INTO {table.name} ({', '.join(columns)}) SELECT {', '.join(values)} FROM incoming")
    db.unregister("incoming")


def tables(chance, count: int, days: int, hostile: bool) -> dict[str, pd.DataFrame]:
    cases, vitals, drugs, events = [], [], [], []
    for number in range(count):
        one = case(chance, number, count, days)
        cold = 0.6 if one["start"] < FIRST + timedelta(days=days * 0.6) else 0.3
        vitals += readings(chance, one, cold)
        drugs.append((one["case_id"], "propofol", "bolus", "induction", one["start"], 4.0 * one["weight_kg"], "mg"))
        if chance.random() < (0.03, 0.05, 0.12, 0.3, 0.5)[one["asa_class"] - 1]:
            name = str(chance.choice(["hypotension", "hypoxemia", "hypothermia", "regurgitation"]))
            events.append((one["case_id"], name, one["start"] + timedelta(minutes=20)))
        cases.append(one)
    if not cases:
        return {}
    frame = pd.DataFrame(cases)
    asa = frame.pop("asa_class").astype("Int64")
    frame["asa_class"] = asa.mask(chance.random(count) < 0.05)
    if hostile:
        for name in ("procedure_group", "ventilation", "machine_id", "agent"):
            frame.loc[::3, name] = HOSTILE
        frame.loc[5::50, "case_id"] = [f"{HOSTILE}{row}" for row in range(len(frame.loc[5::50]))]
    named = dict(zip([one["case_id"] for one in cases], frame["case_id"], strict=True))
    drug = HOSTILE if hostile else "propofol"
    return {
        "cases": frame.drop(columns=["start"]),
        "vitals": pd.DataFrame(
            [(named[a], *rest) for a, *rest in vitals], columns=["case_id", "taken_at", "parameter", "value"]
        ),
        "drugs": pd.DataFrame(
            [(named[a], drug, *rest) for a, _, *rest in drugs],
            columns=["case_id", "drug", "kind", "phase", "given_at", "amount", "amount_unit"],
        ),
        "events": pd.DataFrame([(named[a], *rest) for a, *rest in events], columns=["case_id", "event", "occurred_at"]),
    }


def case(chance, number: int, count: int, days: int) -> dict:
    day = int(number * days / count)
    start = FIRST + timedelta(days=day, minutes=int(chance.choice([500, 560, 640, 800, 870, 1380])))
    minutes = int(chance.lognormal(4.1, 0.4))
    species = str(chance.choice(["dog", "cat", "rabbit"], p=[0.62, 0.32, 0.06]))
    weight = {"dog": chance.lognormal(2.8, 0.5), "cat": chance.normal(4.4, 0.6), "rabbit": 2.2}[species]
    off = start + timedelta(minutes=minutes)
    tube = off + timedelta(minutes=int(chance.lognormal(2.1, 0.5)))
    sternal = tube + timedelta(minutes=int(chance.lognormal(2.4, 0.6)))
    seen = chance.random() < 0.9
    died = chance.random() < 0.012
    return {
        "case_id": f"L{number:04d}",
        "species": species,
        "weight_kg": round(float(weight), 1),
        "asa_class": int(chance.choice([1, 2, 3, 4, 5], p=[0.27, 0.38, 0.22, 0.1, 0.03])),
        "emergency": bool(chance.random() < 0.1),
        "procedure_group": str(chance.choice(["dental", "soft_tissue", "orthopedic", "imaging"])),
        "machine_id": str(chance.choice(["M1", "M2", "M3"])),
        "breathing_system": "rebreathing",
        "ventilation": str(chance.choice(["spontaneous", "mechanical"])),
        "airway": "tracheal_tube",
        "agent": "isoflurane",
        "induction_at": start,
        "start": start,
        "vaporizer_on_at": start + timedelta(minutes=5),
        "vaporizer_off_at": off,
        "extubation_at": tube,
        "sternal_at": sternal if seen else None,
        "standing_at": sternal + timedelta(minutes=int(chance.lognormal(3, 0.4))) if seen else None,
        "outcome": "died" if died else "alive",
        "outcome_at": tube + timedelta(hours=3) if died else None,
    }


def readings(chance, one: dict, cold: float) -> list[tuple]:
    """Charted every five minutes until ten after extubation; a temperature in most cases."""
    rows, level = [], chance.normal(38.3, 0.3)
    low_pressure, high_co2 = chance.random() < 0.3, chance.random() < 0.35
    with_temperature = chance.random() < 0.8
    at, step = one["start"], 0
    while at <= one["extubation_at"] + timedelta(minutes=10):
        level -= abs(chance.normal(cold / 8, 0.03)) * (2 if one["weight_kg"] < 10 else 1)
        middle = chance.normal(54 if low_pressure and 3 < step < 9 else 78, 3)
        values = {
            "heart_rate": chance.normal(95, 8), "sap": middle + 32, "map": middle, "dap": middle - 14,
            "spo2": min(100, chance.normal(97.5, 1.2)), "etco2": chance.normal(50 if high_co2 and step > 2 else 40, 2),
            "fico2": abs(chance.normal(0, 1)), "respiratory_rate": chance.normal(11, 2), "temperature": level,
            "vaporizer_setting": 2.5 if step < 3 else 1.5, "o2_flow": 2.0 if step < 3 else 0.8,
        }  # fmt: skip
        for name in READ:
            if name != "temperature" or with_temperature:
                rows.append((one["case_id"], at, name, round(float(values[name]), 1)))
        at, step = at + timedelta(minutes=5), step + 1
    return rows
