"""Second reading of the record, part 1: windows of a case, valid readings, the as-of time. Plain Python, no speed.

Written from the definitions alone, not from the SQL. A record is {table: [row, ...]} with rows as dicts of
stored columns: each time column X as local datetime X and UTC seconds X_s.
"""

BOUNDS = {
    "temperature": {"dog": (25, 43), "cat": (25, 43), "rabbit": (25, 43)},
    "heart_rate": {"dog": (10, 350), "cat": (10, 350), "rabbit": (10, 400)},
    "respiratory_rate": {"dog": (0, 150), "cat": (0, 150), "rabbit": (0, 150)},
    "spo2": {"dog": (40, 100), "cat": (40, 100), "rabbit": (40, 100)},
    "etco2": {"dog": (0, 150), "cat": (0, 150), "rabbit": (0, 150)},
    "fico2": {"dog": (0, 50), "cat": (0, 50), "rabbit": (0, 50)},
    "sap": {"dog": (30, 300), "cat": (30, 300), "rabbit": (30, 300)},
    "map": {"dog": (15, 250), "cat": (15, 250), "rabbit": (15, 250)},
    "dap": {"dog": (10, 200), "cat": (10, 200), "rabbit": (10, 200)},
    "o2_flow": {"dog": (0, 15), "cat": (0, 15), "rabbit": (0, 15)},
    "air_flow": {"dog": (0, 15), "cat": (0, 15), "rabbit": (0, 15)},
    "n2o_flow": {"dog": (0, 15), "cat": (0, 15), "rabbit": (0, 15)},
    "weight_kg": {"dog": (0.3, 120), "cat": (0.2, 15), "rabbit": (0.3, 12)},
}
DIAL_BOUNDS = {"isoflurane": (0, 5), "sevoflurane": (0, 8)}


def first_known(*values):
    for value in values:
        if value is not None:
            return value
    return None


def month_number(moment):
    return moment.year * 12 + moment.month - 1


def inside(parameter, value, species, agent):
    """True within the plausibility bounds, the bounds themselves included; no bounds, nothing is outside."""
    bounds = DIAL_BOUNDS.get(agent) if parameter == "vaporizer_setting" else BOUNDS.get(parameter, {}).get(species)
    return bounds is None or bounds[0] <= value <= bounds[1]


def cases_of(record):
    """Every case as a dict of its own columns and of what belongs to it: readings (rows of vitals that have a
    value), drugs, events, window."""
    cases = {row["case_id"]: dict(row, vitals=[], drugs=[], events=[]) for row in record["cases"]}
    for table in ("vitals", "drugs", "events"):
        for row in record[table]:
            if row["case_id"] in cases and (table != "vitals" or row["value"] is not None):
                cases[row["case_id"]][table].append(row)
    for case in cases.values():
        add_window(case)
        case["weight"] = case["weight_kg"]
        if case["weight"] is not None and not inside("weight_kg", case["weight"], case["species"], None):
            case["weight"] = None
        case["valid"] = valid_readings(case)
    return cases


def add_window(case):
    """start, end, recovery_end (UTC seconds or None), month, day, and windowed: start and end known, end > start."""
    case["start"], case["month"], case["day"] = None, None, None
    for column in ("induction_at", "intubation_at", "vaporizer_on_at"):
        if case[column + "_s"] is not None:
            case["start"] = case[column + "_s"]
            case["month"] = month_number(case[column])
            case["day"] = case[column].date()
            break
    taken = [row["taken_at_s"] for row in case["vitals"]]
    case["end"] = first_known(case["extubation_at_s"], case["vaporizer_off_at_s"])
    if case["end"] is None and case["start"] is not None:
        awake = [case[c + "_s"] for c in ("sternal_at", "standing_at", "recovery_end_at") if case[c + "_s"] is not None]
        candidates = [t for t in taken if t >= case["start"] and all(t <= stage for stage in awake)]
        case["end"] = max(candidates) if candidates else None
    case["windowed"] = case["start"] is not None and case["end"] is not None and case["end"] > case["start"]
    recovered = first_known(case["recovery_end_at_s"], case["standing_at_s"])
    if recovered is None and taken:
        recovered = max(taken)
    if case["end"] is not None:
        recovered = case["end"] if recovered is None else max(recovered, case["end"])
    case["recovery_end"] = recovered


def valid_readings(case):
    """{parameter: [(seconds, value), ...] in time order}, removed readings left out."""
    raw = {}
    for row in case["vitals"]:
        raw.setdefault(row["parameter"], []).append((row["taken_at_s"], row["value"]))
    for readings in raw.values():
        readings.sort()
    valid = {}
    for parameter, readings in raw.items():
        removed = set()
        for place, (_, value) in enumerate(readings):
            if not inside(parameter, value, case["species"], case["agent"]):
                removed.add(place)
        if parameter == "etco2":
            removed |= disconnected(readings, raw, case)
        if parameter == "spo2":
            removed |= without_pulse(readings, raw)
        if parameter == "temperature":
            removed |= before_placed(readings)
        valid[parameter] = [reading for place, reading in enumerate(readings) if place not in removed]
    return valid


def disconnected(readings, raw, case):
    """Places of etco2 readings in runs of 1 or 2 at <= 5, each with spo2 and heart_rate inside bounds in its minute."""
    runs, run = [], []
    for place, (_, value) in enumerate(readings):
        if value <= 5:
            run.append(place)
        else:
            runs.append(run)
            run = []
    runs.append(run)
    removed = set()
    for run in runs:
        if len(run) in (1, 2) and all(has_companions(readings[place][0], raw, case) for place in run):
            removed.update(run)
    return removed


def has_companions(moment, raw, case):
    for parameter in ("spo2", "heart_rate"):
        found = False
        for t, value in raw.get(parameter, []):
            if t // 60 == moment // 60 and inside(parameter, value, case["species"], case["agent"]):
                found = True
        if not found:
            return False
    return True


def without_pulse(readings, raw):
    removed = set()
    for place, (moment, _) in enumerate(readings):
        rates = [value for t, value in raw.get("heart_rate", []) if t // 60 == moment // 60]
        if 0 in rates and not any(value > 0 for value in rates):
            removed.add(place)
    return removed


def before_placed(readings):
    placed = [t for t, value in readings if value >= 30]
    return {place for place, (t, _) in enumerate(readings) if not placed or t < min(placed)}


def as_of(record):
    """Latest time in any loaded row, UTC seconds; None in an empty record."""
    latest = None
    for rows in record.values():
        for row in rows:
            for name, value in row.items():
                if name.endswith("_s") and value is not None and (latest is None or value > latest):
                    latest = value
    return latest
