"""Second reading, part 5: absorbent, scavenging canisters, leak tests."""

from math import floor

from reference_cases import month_number
from reference_consumption import AGENTS

DAY = 86400


def own_minutes(cases, belongs):
    """{case_id: [(from, to)]}: anesthesia time on a machine, time in common given to the case that began first."""
    pieces, reach = {}, {}
    for case in sorted(cases.values(), key=lambda case: (case["start"] or 0, case["case_id"])):
        if belongs(case) and case["windowed"]:
            machine = case["machine_id"]
            begin = max(case["start"], reach.get(machine, case["start"]))
            pieces[case["case_id"]] = [(begin, case["end"])] if case["end"] > begin else []
            reach[machine] = max(reach.get(machine, case["end"]), case["end"])
    return pieces


def seconds_between(pieces, machine, cases, begin, finish):
    total = 0
    for case_id, spans in pieces.items():
        if cases[case_id]["machine_id"] == machine:
            for a, b in spans:
                total += max(0, min(b, finish) - max(a, begin))
    return total


def changes_of(record, item):
    """{machine: sorted times of its changes}"""
    changes = {}
    for row in record["equipment"]:
        if row["item"] == item and row["action"] == "changed":
            changes.setdefault(row["machine_id"], set()).add(row["at_s"])
    return {machine: sorted(times) for machine, times in changes.items()}


def last_change(changes, machine, moment):
    times = [t for t in changes.get(machine, []) if t <= moment]
    return max(times, default=None)


def rebreathes(case):
    return case["breathing_system"] == "rebreathing" and case["machine_id"] is not None


def inhales(case):
    return case["agent"] in AGENTS and case["machine_id"] is not None


def add_overdue(cases, facts, record, settings):
    """absorbent_overdue and canister_overdue of every case, judged at its start."""
    absorbent, canister = changes_of(record, "absorbent"), changes_of(record, "scavenging_canister")
    on_absorbent, on_canister = own_minutes(cases, rebreathes), own_minutes(cases, inhales)
    for case_id, case in cases.items():
        shares = facts[case_id]["shares"]
        shares["absorbent_overdue"] = shares["canister_overdue"] = None
        if case["start"] is None:
            continue
        machine, start = case["machine_id"], case["start"]
        changed = last_change(absorbent, machine, start) if rebreathes(case) else None
        if changed is not None:
            used = seconds_between(on_absorbent, machine, cases, changed, start)
            late = used > settings.absorbent.max_hours * 3600 or start - changed > settings.absorbent.max_days * DAY
            shares["absorbent_overdue"] = int(late)
        changed = last_change(canister, machine, start) if inhales(case) else None
        if changed is not None:
            used = seconds_between(on_canister, machine, cases, changed, start)
            gain = canister_gain(record, machine, changed, start)
            shares["canister_overdue"] = int(used > 12 * 3600 or (gain is not None and gain >= 50))


def canister_gain(record, machine, changed, start):
    weights = []
    for row in record["equipment"]:
        ours = row["machine_id"] == machine and row["item"] == "scavenging_canister" and row["unit"] == "g"
        if ours and row["value"] is not None and changed <= row["at_s"] <= start:
            weights.append((row["at_s"], row["value"]))
    weights.sort(key=lambda weight: weight[0])
    return weights[-1][1] - weights[0][1] if weights else None


def machine_totals(record, cases, settings, last_month):
    """{measure: [(machine, month or None, value or None)]}"""
    rows = {name: [] for name in ("absorbent_changes", "absorbent_marks", "absorbent_hours",
                                  "absorbent_marks_expected")}  # fmt: skip
    for row in record["equipment"]:
        if row["item"] == "absorbent" and row["action"] in ("changed", "marked"):
            measure = "absorbent_changes" if row["action"] == "changed" else "absorbent_marks"
            rows[measure].append((row["machine_id"], month_number(row["at"]), 1))
    changes, pieces = changes_of(record, "absorbent"), own_minutes(cases, rebreathes)
    for case_id, case in cases.items():
        if case["start"] is not None and case["breathing_system"] == "rebreathing":
            first = min(changes.get(case["machine_id"], []), default=None)
            hours = None
            if case_id in pieces and first is not None and case["end"] > first:
                hours = sum(max(0, b - max(a, first)) for a, b in pieces[case_id]) / 3600
            rows["absorbent_hours"].append((case["machine_id"] or "not recorded", case["month"], hours))
    months = {}
    for row in record["equipment"]:
        if row["item"] == "absorbent" and row["action"] == "changed":
            months[row["machine_id"], row["at_s"]] = month_number(row["at"])
    for machine, times in changes.items():
        for place, begin in enumerate(times):
            closed = place + 1 < len(times)
            finish = times[place + 1] if closed else float("inf")
            month = months[machine, finish] if closed else last_month
            per_mark, expected = settings.absorbent.minutes_per_mark, None
            if per_mark:
                minutes = seconds_between(pieces, machine, cases, begin, finish) / 60
                expected = floor(minutes / per_mark)
            rows["absorbent_marks_expected"].append((machine, month, expected))
    return rows


def hours_since_change(record, cases, machine, finish):
    """Hours on the machine's absorbent since its last change before a moment; None where it was never changed."""
    times = [t for t in changes_of(record, "absorbent").get(machine, []) if t < finish]
    if not times:
        return None
    return seconds_between(own_minutes(cases, rebreathes), machine, cases, max(times), finish) / 3600


def leak_tests(record):
    """[(machine, month, failed 1 or 0 or None)]"""
    rows = []
    for row in record["equipment"]:
        if row["action"] == "leak_tested":
            known = row["value"] is not None and (row["unit"] or "").lower() == "ml/min"
            rows.append((row["machine_id"], month_number(row["at"]), int(row["value"] > 300) if known else None))
    return rows
