"""Second reading, part 2: sample and hold, episodes, exposure measures, charting gaps, temperature."""

HOLD_MAX = 600
MIN_READINGS = 2
SUSTAIN = 300

ALL_THREE = ("dog", "cat", "rabbit")
# measure: (parameter, species, beyond(value), limit of the depth); heart-rate limits depend on the case.
FIXED = {
    "hypoventilation": ("etco2", ALL_THREE, lambda v: v > 45, 45),
    "severe_hypoventilation": ("etco2", ALL_THREE, lambda v: v > 60, 60),
    "hyperventilation": ("etco2", ALL_THREE, lambda v: 5 < v < 35, 35),
    "no_co2": ("etco2", ALL_THREE, lambda v: v <= 5, 5),
    "rebreathing": ("fico2", ALL_THREE, lambda v: v > 5, 5),
    "hypoxemia": ("spo2", ALL_THREE, lambda v: v < 95, 95),
    "severe_hypoxemia": ("spo2", ALL_THREE, lambda v: v < 90, 90),
}
MEASURES = (*FIXED, "hypotension", "bradycardia", "tachycardia")

# measure: (which reading, holds(value))
TEMPERATURE = {
    "hypothermia": ("lowest", lambda v: v < 36.5),
    "hypothermia_any": ("lowest", lambda v: v < 38.5),
    "hypothermia_slight": ("lowest", lambda v: 36.5 <= v < 38.5),
    "hypothermia_moderate": ("lowest", lambda v: 34.0 <= v < 36.5),
    "hypothermia_severe": ("lowest", lambda v: v < 34.0),
    "normothermia": ("lowest", lambda v: 38.5 <= v <= 39.5),
    "hyperthermia": ("highest", lambda v: v > 39.5),
}


def held(readings, start, end):
    """[(time, value, hold in seconds, number of its stretch)] of the readings in the window."""
    inside = [(t, value) for t, value in readings if start <= t <= end]
    rows, stretch = [], 0
    for place, (t, value) in enumerate(inside):
        until = min(t + HOLD_MAX, end)
        if place + 1 < len(inside):
            until = min(until, inside[place + 1][0])
        if place > 0 and t - inside[place - 1][0] > HOLD_MAX:
            stretch += 1
        rows.append((t, value, until - t, stretch))
    return rows


def coverage(rows, start, end):
    counted = 0
    for stretch in {row[3] for row in rows}:
        members = [row for row in rows if row[3] == stretch]
        if len(members) >= MIN_READINGS:
            counted += sum(row[2] for row in members)
    return counted / (end - start)


def episodes(rows, beyond):
    """Lists of rows: consecutive readings beyond within a stretch."""
    found, run = [], []
    for row in rows:
        if run and row[3] != run[-1][3]:
            found.append(run)
            run = []
        if beyond(row[1]):
            run.append(row)
        elif run:
            found.append(run)
            run = []
    return found + [run] if run else found


def limit_of(case, measure):
    """(parameter, beyond, limit) for the case, or None where no limit exists for it."""
    species, weight = case["species"], case["weight"]
    if measure in FIXED:
        parameter, known_for, beyond, limit = FIXED[measure]
        return (parameter, beyond, limit) if species in known_for else None
    if measure == "hypotension":
        if species not in ("dog", "cat"):
            return None
        start, end = case["start"], case["end"]
        for parameter, limit in (("map", 60), ("sap", 90)):
            rows = held(case["valid"].get(parameter, []), start, end)
            if coverage(rows, start, end) >= 0.5:
                return parameter, lambda v, limit=limit: v < limit, limit
        return None
    if species == "cat":
        low, high = 100, 180
    elif species == "dog" and weight is not None:
        low, high = (70, 190) if weight <= 10 else (60, 170) if weight <= 25 else (50, 150)
    else:
        return None
    if measure == "bradycardia":
        return "heart_rate", lambda v: v < low, low
    return "heart_rate", lambda v: v > high, high


def exposure(case, measure):
    """{parameter, has, beyond_min, observed_min, area, episodes} or None where not assessable."""
    if not case["windowed"] or case["end"] - case["start"] < SUSTAIN:
        return None
    chosen = limit_of(case, measure)
    if chosen is None:
        return None
    parameter, beyond, limit = chosen
    rows = held(case["valid"].get(parameter, []), case["start"], case["end"])
    if coverage(rows, case["start"], case["end"]) < 0.5:
        return None
    runs = episodes(rows, beyond)
    has = any(
        len([row for row in run if row[2] > 0]) >= MIN_READINGS and sum(row[2] for row in run) >= SUSTAIN
        for run in runs
    )
    past = [row for row in rows if beyond(row[1])]
    return {
        "parameter": parameter,
        "has": int(has),
        "beyond_min": sum(row[2] for row in past) / 60,
        "observed_min": sum(row[2] for row in rows) / 60,
        "area": sum(abs(row[1] - limit) * row[2] for row in past) / 60,
        "episodes": runs,
    }


def add_exposures(case, facts):
    for measure in MEASURES:
        found = exposure(case, measure)
        facts["shares"][measure] = found and found["has"]
        facts["amounts"][measure + "_minutes"] = found and found["beyond_min"]
        facts["amounts"][measure + "_area"] = found and found["area"]
        facts["ratios"][measure + "_time_share"] = found and (found["beyond_min"], found["observed_min"])
    facts["shares"]["charting_gap"] = charting_gap(case)


def charting_gap(case):
    if not case["windowed"] or case["end"] - case["start"] <= 600:
        return None
    marks = [row["taken_at_s"] for row in case["vitals"] if row["parameter"] == "heart_rate"]
    marks = sorted([t for t in marks if case["start"] <= t <= case["end"]] + [case["start"], case["end"]])
    return int(any(later - earlier > 600 for earlier, later in zip(marks, marks[1:], strict=False)))


def add_temperature(case, facts):
    whole, anesthetic, after = [], [], []
    if case["windowed"] and case["species"] in ("dog", "cat"):
        readings = case["valid"].get("temperature", [])
        whole = [(t, value) for t, value in readings if case["start"] <= t <= case["recovery_end"]]
        anesthetic = [(t, value) for t, value in readings if case["start"] <= t <= case["end"]]
        after = [(t, value) for t, value in readings if t > case["end"]]
    for measure, (which, holds) in TEMPERATURE.items():
        values = [value for _, value in whole]
        chosen = None if not values else min(values) if which == "lowest" else max(values)
        facts["shares"][measure] = None if chosen is None else int(holds(chosen))
        facts["shares"][measure + "_at_end"] = int(holds(anesthetic[-1][1])) if anesthetic else None
    facts["stages"]["minutes_to_hypothermia"] = first_or_last(whole, lambda v: v < 36.5, case["start"])
    cold = anesthetic and anesthetic[-1][1] < 36.5
    facts["stages"]["minutes_to_rewarm"] = first_or_last(after if cold else [], lambda v: v >= 36.5, case["end"])


def first_or_last(readings, holds, origin):
    """(minutes, 1) to the first reading that holds, else (minutes, 0) to the last; None without a reading."""
    for t, value in readings:
        if holds(value):
            return (t - origin) / 60, 1
    return ((readings[-1][0] - origin) / 60, 0) if readings else None
