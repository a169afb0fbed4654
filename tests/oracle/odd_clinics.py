"""Small clinics made of edge cases: values at the limits, ties, gaps, missing and reversed times, odd units.

Times are made as minutes of UTC and written in both clocks, local wall time and UTC seconds. Hypothesis seeds the
chance of each clinic, so a failing one comes again.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from pipeline import schema

EPOCH = datetime(2026, 1, 29, 6, tzinfo=UTC)
VALUES = {
    "heart_rate": [
        0,
        0,
        9,
        10,
        49,
        50,
        59.9,
        60,
        69,
        70,
        80,
        99,
        100,
        120,
        150,
        151,
        170,
        171,
        180,
        181,
        190,
        191,
        351,
    ],
    "etco2": [-1, 0, 3, 5, 5, 5.1, 34.9, 35, 40, 40, 45, 45.1, 50, 60, 60.1, 70, 150, 151],
    "fico2": [0, 3, 5, 5.1, 8, 50, 51],
    "spo2": [39, 40, 89, 90, 94, 95, 98, 100, 101],
    "map": [14, 15, 50, 59, 59.9, 60, 61, 80, 251],
    "sap": [29, 30, 80, 89, 89.9, 90, 91, 120, 301],
    "temperature": [20, 24.9, 29.9, 30, 33.9, 34, 36.4, 36.5, 37, 38.4, 38.5, 39, 39.5, 39.6, 43, 43.1],
    "vaporizer_setting": [0, 1, 2, 5, 5.1, 8, 8.1],
    "o2_flow": [0, 0.5, 1, 2, 15.1],
    "air_flow": [0, 1, 16],
    "n2o_flow": [0, 0.5],
}
STEPS = [5, 5, 5, 5, 2.5, 2.5, 10, 10, 1, 0.25, 0.5, 10 + 1 / 60, 15]
DAYS_2 = 2 * 1440
MONTH_ENDS = [2 * 1440 + 60 * hour for hour in (5, 18, 23)]  # midnight in Auckland, in UTC, in New York
EVENTS = ("hypotension", "hypothermia", "hypoventilation", "bradycardia", "apnea", "other", "death", "death")
EVENT_SETTINGS = [{}, {"recorded": True}, {"recorded": False}, {"recorded": ["B"]}, {"from": date(2026, 1, 30)}]
ACTIONS = [
    ("absorbent", "changed", None, [None]),
    ("absorbent", "changed", "g", [900]),
    ("absorbent", "marked", None, [None, 2]),
    ("scavenging_canister", "changed", None, [None]),
    ("scavenging_canister", "changed", "g", [1001]),
    ("scavenging_canister", "weighed", "g", [1000, 1049, 1050, 1051, None]),
    ("scavenging_canister", "weighed", "kg", [1]),
    ("breathing_system", "leak_tested", "mL/min", [299, 300, 301, None]),
    ("absorbent", "leak_tested", "L/min", [0.2]),
    ("vaporizer", "leak_tested", None, [500]),
]


def clocks(minutes, zone):
    """(local wall time, UTC seconds) of minutes after EPOCH."""
    if minutes is None:
        return None, None
    moment = EPOCH + timedelta(seconds=round(60 * minutes))
    return moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None), int(moment.timestamp())


def stored(table, number, zone, **cells):
    """A row of a canonical table with every stored column; times given as minutes after EPOCH."""
    row = {name: None for name, _ in schema.stored_columns(schema.TABLES[table])}
    row.update(source_file=1, source_row=number)
    for name, value in cells.items():
        if schema.TABLES[table].column(name).kind == "time":
            row[name], row[f"{name}_s"] = clocks(value, zone)
        else:
            row[name] = value
    return row


def times(chance):
    """Times of a case in minutes after EPOCH, mostly in order, some missing, some not."""
    begin = 1440 * chance.choice([0, 0, 0, 1, 2, 3, 33, 64]) + 15 * chance.randrange(30)
    if chance.random() < 0.1:
        begin = chance.choice(MONTH_ENDS) - chance.choice([0, 5, 30])
    off = begin + chance.choice([4, 5, 9, 10, 11, 20, 30, 60, 60, 61, 125, 480, 500, 0, -5])
    out = off + chance.choice([0, 0, 5, 10, -5])
    sternal = out + chance.choice([0, 5, 10, 20, 30, 31, -20])
    standing = sternal + chance.choice([0, 5, 20, -10])
    found = {
        "preoxygenation_start_at": begin - chance.choice([0, 5, 10]),
        "induction_at": begin,
        "intubation_at": begin + chance.choice([0, 3, -3]),
        "vaporizer_on_at": begin + chance.choice([0, 5, -2]),
        "vaporizer_off_at": off,
        "extubation_at": out,
        "sternal_at": sternal,
        "standing_at": standing,
        "recovery_end_at": standing + chance.choice([0, 30, -40]),
    }
    missing = chance.choice([0, 1, 3, 5])
    return begin, off, {name: None if chance.randrange(10) < missing else t for name, t in found.items()}


def readings(chance, case_id, begin, zone, parameters):
    """Rows of vitals: parameters charted at common times, steps around the holding time, values around the limits."""
    grid = [begin + chance.choice([0, 0, 0.5, 5, -5, -15])]
    for _ in range(chance.randrange(16)):
        grid.append(grid[-1] + chance.choice(STEPS))
    rows = []
    for parameter in parameters:
        if chance.random() < 0.4:
            continue
        values = VALUES[parameter]
        if chance.random() < 0.6:
            values = chance.sample(values, min(len(values), chance.choice([1, 2, 3])))
        for minute in grid:
            if chance.random() < 0.85:
                value = None if chance.random() < 0.03 else chance.choice(values)
                rows.append(stored("vitals", len(rows), zone, case_id=case_id, taken_at=minute, parameter=parameter,
                                   value=value))  # fmt: skip
    return rows


def a_case(chance, number, zone, parameters=tuple(VALUES)):
    """(cases row, its vitals, drugs, events)"""
    case_id = f"C{number}"
    begin, off, moments = times(chance)
    end = next((moments[name] for name in ("extubation_at", "vaporizer_off_at") if moments[name] is not None), off)
    fate = [None, begin - 10, end, off + 20, off + 60, end + DAYS_2, end + DAYS_2 + 1 / 60, end + 9000]
    case = stored(
        "cases", number, zone, case_id=case_id, **moments,
        site=chance.choice(["A", "A", "B", None]),
        species=chance.choice(["dog", "dog", "cat", "cat", "rabbit", "ferret", None]),
        weight_kg=chance.choice([None, 0.1, 4, 10, 10.001, 12.5, 25, 25.1, 120, 121]),
        asa_class=chance.choice([None, 1, 1, 2, 3, 5]),
        emergency=chance.choice([None, True, False]),
        agent=chance.choice(["isoflurane", "isoflurane", "sevoflurane", "desflurane", "none", None]),
        airway=chance.choice(["tracheal_tube", "tracheal_tube", "mask", None]),
        machine_id=chance.choice(["M1", "M1", "M1", "M2", None]),
        breathing_system=chance.choice(["rebreathing", "rebreathing", "rebreathing", "non_rebreathing", None]),
        ventilation=chance.choice(["mechanical", None]),
        procedure_group=chance.choice(["dental", None]),
        techniques=chance.choice([None, "epidural", "epidural;nerve_block", "nerve_block; epidural;epidural", ";"]),
        trainee=chance.choice(["R1", None]),
        trainee_role=chance.choice(["primary", None]),
        supervisor=chance.choice(["S1", None]),
        outcome=chance.choice([None, "alive", "died", "euthanised"]),
        outcome_at=chance.choice(fate),
        followed_until=chance.choice([None, None, begin + DAYS_2, begin + DAYS_2 - 1, end + DAYS_2, end + DAYS_2 - 1]),
    )  # fmt: skip
    vitals = readings(chance, case_id, begin, zone, parameters)
    drugs = [a_dose(chance, case_id, place, begin, zone) for place in range(chance.randrange(5))]
    events = []
    for place in range(chance.choice([0, 0, 0, 1, 1, 3])):
        moment = chance.choice([None, begin, begin - 1, end, end + 1 / 60, end + DAYS_2, end + DAYS_2 + 1])
        events.append(stored("events", place, zone, case_id=case_id, event=chance.choice(EVENTS), occurred_at=moment))
    return case, vitals, drugs, events


def a_dose(chance, case_id, place, begin, zone):
    given = chance.choice([begin, begin, begin + 10, begin + 10, begin + 40, None])
    return stored(
        "drugs", place, zone, case_id=case_id,
        drug=chance.choice(["propofol", "propofol", "alfaxalone", "ketamine"]),
        kind=chance.choice(["bolus", "infusion", "infusion", None]),
        phase=chance.choice(["maintenance", "maintenance", "induction", None]),
        given_at=given,
        stopped_at=None if given is None else chance.choice([None, given, given + 30, given + 61, given - 5]),
        amount=chance.choice([None, 0, 1, 2.5, 30]),
        amount_unit=chance.choice([None, *schema.AMOUNT_UNITS]),
        concentration_mg_ml=chance.choice([None, None, 10, 0.05]),
        wasted_ml=chance.choice([None, 0, 0.5]),
    )  # fmt: skip


def machine_action(chance, place, zone, moments):
    item, action, unit, values = chance.choice(ACTIONS)
    before = [0, 0, 1, 60, 60, 480, -20, 1440, 3 * 1440, 14 * 1440, 20 * 1440, 60 * 1440]
    at = chance.choice(moments) - chance.choice(before)
    return stored("equipment", place, zone, machine_id=chance.choice(["M1", "M1", "M1", "M2"]), at=at, item=item,
                  action=action, unit=unit, value=chance.choice(values))  # fmt: skip


@st.composite
def clinics(draw):
    """(record, settings as a dict, report month or None)"""
    chance = draw(st.randoms(use_true_random=True))
    zone = chance.choice(["UTC", "America/New_York", "Pacific/Auckland"])
    record = {name: [] for name in (*schema.TABLES, "quarantine")}
    moments, months = [], [None]
    for number in range(chance.choice([1, 2, 3, 5, 8, 30, 30])):
        case, *others = a_case(chance, number, zone)
        record["cases"].append(case)
        for name, rows in zip(("vitals", "drugs", "events"), others, strict=True):
            record[name] += rows
        begun = next((name for name in ("induction_at", "intubation_at", "vaporizer_on_at") if case[name]), None)
        if begun is not None:
            moments.append((case[f"{begun}_s"] - int(EPOCH.timestamp())) // 60)
            months.append(f"{case[begun]:%Y-%m}")
    for place in range(chance.randrange(10 + len(moments)) if moments else 0):
        record["equipment"].append(machine_action(chance, place, zone, moments))
    for place in range(chance.randrange(3) if moments else 0):
        record["stock"].append(stored("stock", place, zone, item=chance.choice(["vial", "flask", "unknown"]),
                                      at=chance.choice([moments[0], 0, -50000]),
                                      movement=chance.choice(["opened", "opened", "received"]),
                                      quantity=chance.choice([None, 1, 2.5]),
                                      unit=chance.choice(["pack", "Packs", "mL", "mg", "g", None])))  # fmt: skip
    for _ in range(chance.choice([0, 0, 1, 2])):
        month_no = 2026 * 12 + chance.randrange(4)
        record["quarantine"].append({"table_name": "cases", "month_no": month_no, "site": chance.choice(["A", None])})
    settings = {
        "zone": zone,
        "events": chance.choice(EVENT_SETTINGS),
        "deaths": {"assume_alive": chance.random() < 0.5},
        "absorbent": chance.choice([{}, {"minutes_per_mark": 30.0}]),
        "items": {
            "vial": {"drug": "propofol", "concentration_mg_ml": 10.0, "pack_ml": 20.0},
            "bottle": {"drug": "ketamine", "concentration_mg_ml": chance.choice([50.0, 100.0])},
            "flask": {"drug": "ketamine", "concentration_mg_ml": 100.0, "pack_ml": 10.0},
        },
    }
    return record, settings, chance.choice(months)
