"""Small clinics made of edge cases: values at the limits, ties, gaps, missing and reversed times, odd units.

Times are drawn as minutes of UTC and written in both clocks, local wall time and UTC seconds.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from pipeline import schema

EPOCH = datetime(2026, 1, 29, 6, tzinfo=UTC)
VALUES = {
    "heart_rate": [0, 9, 10, 49, 50, 59.9, 60, 69, 70, 80, 99, 100, 120, 150, 151, 170, 171, 180, 181, 190, 191, 351],
    "etco2": [-1, 0, 3, 5, 5, 5.1, 34.9, 35, 40, 45, 45.1, 50, 60, 60.1, 70, 150, 151],
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
EVENT_SETTINGS = [{}, {"recorded": True}, {"recorded": False}, {"recorded": ["B"]}, {"from": date(2026, 1, 30)}]


def pick(draw, *choices):
    return draw(st.sampled_from(choices))


def clocks(minutes, zone):
    """(local wall time, UTC seconds) of minutes after EPOCH."""
    if minutes is None:
        return None, None
    moment = EPOCH + timedelta(minutes=minutes)
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


@st.composite
def times(draw):
    """Times of a case in minutes after EPOCH, mostly in order, some missing, some not."""
    begin = 1440 * pick(draw, 0, 0, 0, 1, 2, 3, 33, 64) + 15 * draw(st.integers(0, 60))
    off = begin + pick(draw, 4, 5, 9, 10, 11, 30, 60, 60, 61, 125, 500, 0, -5)
    out = off + pick(draw, 0, 0, 5, 10, -5)
    sternal = out + pick(draw, 0, 5, 10, 20, 30, 31, -20)
    standing = sternal + pick(draw, 0, 5, 20, -10)
    found = {
        "premed_at": begin - 20,
        "preoxygenation_start_at": begin - pick(draw, 0, 5, 10),
        "induction_at": begin,
        "intubation_at": begin + pick(draw, 0, 3, -3),
        "vaporizer_on_at": begin + pick(draw, 0, 5, -2),
        "vaporizer_off_at": off,
        "extubation_at": out,
        "sternal_at": sternal,
        "standing_at": standing,
        "recovery_end_at": standing + pick(draw, 0, 30, -40),
    }
    missing = pick(draw, 0.0, 0.1, 0.3, 0.6)
    return begin, off, {name: None if draw(st.floats(0, 1)) < missing else t for name, t in found.items()}


@st.composite
def series(draw, case_id, parameter, begin, zone):
    """Readings of one parameter: steps around the holding time, values around the limits."""
    values = VALUES[parameter]
    if draw(st.booleans()):
        values = draw(st.lists(st.sampled_from(values), min_size=1, max_size=3))
    minute, rows = begin + pick(draw, 0, 0, 0.5, 5, -5, -15), []
    for _ in range(draw(st.integers(1, 14))):
        rows.append(stored("vitals", len(rows), zone, case_id=case_id, taken_at=minute, parameter=parameter,
                           value=draw(st.sampled_from(values)) if draw(st.integers(0, 30)) else None))  # fmt: skip
        minute += pick(draw, 5, 5, 5, 10, 10, 1, 0.25, 10 + 1 / 60, 15)
    return rows


@st.composite
def cases(draw, number, zone, parameters=tuple(VALUES)):
    """(cases row, its vitals, drugs, events)"""
    case_id = f"C{number}"
    begin, off, moments = draw(times())
    after = pick(draw, None, begin - 10, off, off + 20, off + 60, off + 2880, off + 2881, off + 9000)
    case = stored(
        "cases", number, zone, case_id=case_id, **moments,
        site=pick(draw, "A", "A", "B", None),
        species=pick(draw, "dog", "dog", "cat", "rabbit", "ferret", None),
        weight_kg=pick(draw, None, 0.1, 4, 10, 10.001, 12.5, 25, 25.1, 120, 121),
        asa_class=pick(draw, None, 1, 1, 2, 3, 5),
        emergency=pick(draw, None, True, False),
        agent=pick(draw, "isoflurane", "isoflurane", "sevoflurane", "desflurane", "none", None),
        airway=pick(draw, "tracheal_tube", "tracheal_tube", "mask", None),
        machine_id=pick(draw, "M1", "M1", "M2", None),
        breathing_system=pick(draw, "rebreathing", "rebreathing", "non_rebreathing", None),
        ventilation=pick(draw, "mechanical", None),
        procedure_group=pick(draw, "dental", None),
        techniques=pick(draw, None, "epidural", "epidural;nerve_block", "nerve_block; epidural;epidural", ";"),
        trainee=pick(draw, "R1", None),
        trainee_role=pick(draw, "primary", None),
        supervisor=pick(draw, "S1", None),
        outcome=pick(draw, None, "alive", "died", "euthanised"),
        outcome_at=after,
        followed_until=pick(draw, None, off + 2880, off + 2870),
    )  # fmt: skip
    vitals, seen = [], set()
    for parameter in parameters:
        if draw(st.booleans()):
            for row in draw(series(case_id, parameter, begin, zone)):
                if (row["taken_at_s"], parameter) not in seen:
                    seen.add((row["taken_at_s"], parameter))
                    vitals.append(row)
    drugs = [draw(dose(case_id, place, begin, zone)) for place in range(draw(st.integers(0, 4)))]
    events = []
    for place in range(draw(st.sampled_from([0, 0, 0, 1, 1, 3]))):
        event = pick(draw, "hypotension", "hypothermia", "hypoventilation", "bradycardia", "apnea", "other", "death")
        moment = pick(draw, None, begin, begin - 1, off, off + 20, off + 2880, off + 4000)
        events.append(stored("events", place, zone, case_id=case_id, event=event, occurred_at=moment))
    return case, vitals, drugs, events


@st.composite
def dose(draw, case_id, place, begin, zone):
    given = pick(draw, begin, begin, begin + 10, begin + 10, begin + 40, None)
    return stored(
        "drugs", place, zone, case_id=case_id,
        drug=pick(draw, "propofol", "propofol", "alfaxalone", "ketamine"),
        kind=pick(draw, "bolus", "infusion", "infusion", None),
        phase=pick(draw, "maintenance", "maintenance", "induction", None),
        given_at=given,
        stopped_at=None if given is None else pick(draw, None, given, given + 30, given + 61),
        amount=pick(draw, None, 0, 1, 2.5, 30),
        amount_unit=pick(draw, None, *schema.AMOUNT_UNITS),
        concentration_mg_ml=pick(draw, None, None, 10, 0.05),
        wasted_ml=pick(draw, None, 0, 0.5),
    )  # fmt: skip


@st.composite
def machine_action(draw, place, zone, moments):
    item, action, unit, values = pick(
        draw,
        ("absorbent", "changed", None, [None]),
        ("absorbent", "changed", "g", [900]),
        ("absorbent", "marked", None, [None, 2]),
        ("scavenging_canister", "changed", None, [None]),
        ("scavenging_canister", "weighed", "g", [1000, 1049, 1050, 1051, None]),
        ("scavenging_canister", "weighed", "kg", [1]),
        ("breathing_system", "leak_tested", "mL/min", [299, 300, 301, None]),
        ("absorbent", "leak_tested", "L/min", [0.2]),
        ("scavenging_canister", "changed", "g", [1001]),
        ("vaporizer", "leak_tested", None, [500]),
    )
    at = draw(st.sampled_from(moments)) + pick(draw, 0, 0, -1, -60, 20, -3 * 1440, -14 * 1440, -20 * 1440, -60 * 1440)
    return stored("equipment", place, zone, machine_id=pick(draw, "M1", "M1", "M2"), at=at, item=item, action=action,
                  unit=unit, value=draw(st.sampled_from(values)))  # fmt: skip


@st.composite
def clinics(draw, most_cases):
    """(record, settings as a dict)"""
    zone = pick(draw, "UTC", "America/New_York", "Pacific/Auckland")
    record = {name: [] for name in (*schema.TABLES, "quarantine")}
    moments = []
    for number in range(draw(st.integers(1, most_cases))):
        case, vitals, drugs, events = draw(cases(number, zone))
        record["cases"].append(case)
        for name, rows in (("vitals", vitals), ("drugs", drugs), ("events", events)):
            record[name] += rows
        begun = next((case[f"{c}_s"] for c in ("induction_at", "intubation_at", "vaporizer_on_at") if case[c]), None)
        if begun is not None:
            moments.append((begun - int(EPOCH.timestamp())) // 60)
    for place in range(draw(st.integers(0, 8)) if moments else 0):
        record["equipment"].append(draw(machine_action(place, zone, moments)))
    for place in range(draw(st.integers(0, 2)) if moments else 0):
        record["stock"].append(stored("stock", place, zone, item="vial", at=pick(draw, moments[0], 0, -50000),
                                      movement=pick(draw, "opened", "opened", "received"),
                                      quantity=pick(draw, None, 1, 2.5),
                                      unit=pick(draw, "pack", "Packs", "mL", "mg", "g", None)))  # fmt: skip
    for _ in range(pick(draw, 0, 0, 1, 2)):
        month_no = 2026 * 12 + draw(st.integers(0, 3))
        record["quarantine"].append({"table_name": "cases", "month_no": month_no, "site": pick(draw, "A", None)})
    settings = {
        "zone": zone,
        "events": draw(st.sampled_from(EVENT_SETTINGS)),
        "deaths": {"assume_alive": draw(st.booleans())},
        "absorbent": pick(draw, {}, {"minutes_per_mark": 30.0}),
        "items": {"vial": {"drug": "propofol", "concentration_mg_ml": 10.0, "pack_ml": 20.0},
                  "bottle": {"drug": "ketamine", "concentration_mg_ml": pick(draw, 50.0, 100.0)},
                  "flask": {"drug": "ketamine", "concentration_mg_ml": 100.0, "pack_ml": 10.0}},
    }  # fmt: skip
    return record, settings
