"""Second reading, part 7: every row of `results` that the definitions name, from canonical rows and settings."""

from datetime import datetime
from zoneinfo import ZoneInfo

from reference_cases import as_of, cases_of
from reference_complete import periods_of
from reference_consumption import drug_totals, gas_totals, oxygen_l
from reference_exposures import add_exposures, add_temperature
from reference_machines import add_overdue, hours_since_change, leak_tests, machine_totals
from reference_outcomes import add_complications, add_death, add_recovery, sites_that_chart
from reference_statistics import kaplan_meier, median_interval, quantile, rounded, time_quantile, trend, wilson

CASE_COLUMNS = ("site", "species", "asa_class", "emergency", "agent", "ventilation", "breathing_system",
                "procedure_group", "machine_id", "trainee", "trainee_role", "supervisor")  # fmt: skip
TRENDS = ("complication", "death_48h", "hypothermia", "hypoventilation", "hypotension")
QUANTILES = {"": 0.5, "_q1": 0.25, "_q3": 0.75}


def results(record, settings, month=None):
    """{(measure, period, by, level): (n, numerator, denominator, value, low, high, not_assessable, partial)}"""
    cases = cases_of(record)
    latest = as_of(record)
    sites = sites_that_chart(cases, settings)
    facts = {case_id: {"shares": {}, "amounts": {}, "ratios": {}, "stages": {}} for case_id in cases}
    started = []
    for case_id, case in cases.items():
        if case["start"] is not None:
            started.append(case_id)
            add_exposures(case, facts[case_id])
            add_temperature(case, facts[case_id])
            add_complications(case, facts[case_id], sites, settings)
            add_death(case, facts[case_id], settings, latest)
            add_recovery(case, facts[case_id], settings)
            facts[case_id]["oxygen_l"] = oxygen_l(case)
    if not started:
        return {}
    add_overdue(cases, facts, record, settings)
    rows = {}
    for period in periods_of(record, cases, month):
        groups = {("all", "all"): []}
        for case_id in started:
            if period["covers"](cases[case_id]["month"]):
                for by_level in groups_of(cases[case_id]):
                    groups.setdefault(by_level, []).append(case_id)
        for (by, level), members in groups.items():
            place = (period["name"], by, level)
            of_members = [cases[member] for member in members], [facts[member] for member in members]
            add_case_rows(rows, place, *of_members, facts[started[0]], period["partial"])
        add_totals(rows, period, record, cases, settings)
    return {key: (row[0], *[rounded(value) for value in row[1:6]], *row[6:]) for key, row in rows.items()}


def groups_of(case):
    """Every (by, level) a case counts in."""
    found = [("all", "all")]
    for column in CASE_COLUMNS:
        found.append((column, level_text(case[column])))
    words = sorted({word.strip() for word in (case["techniques"] or "").split(";") if word.strip()})
    for word in words or ["not recorded"]:
        found.append(("technique", word))
    found.append(("asa_class x species", f"{level_text(case['asa_class'])} x {level_text(case['species'])}"))
    return found


def level_text(value):
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def add_case_rows(rows, place, cases, facts, names, partial):
    """Every case measure of one period, by and level; names: a case's facts, for the measures' names."""
    n = len(facts)
    for measure in names["shares"]:
        add_share(rows, (measure, *place), [fact["shares"][measure] for fact in facts], partial)
    for measure in names["amounts"]:
        known = [fact["amounts"][measure] for fact in facts if fact["amounts"][measure] is not None]
        for tail, p in QUANTILES.items() if measure.endswith("_minutes") else [("", 0.5)]:
            value = quantile(known, p)
            rows[measure + tail, *place] = (n, None, len(known), value, None, None, n - len(known), partial)
    for measure in names["ratios"]:
        known = [fact["ratios"][measure] for fact in facts if fact["ratios"][measure] is not None]
        top, bottom = sum(pair[0] for pair in known), sum(pair[1] for pair in known)
        value = top / bottom if bottom else None
        rows[measure, *place] = (n, top, bottom, value, None, None, n - len(known), partial)
    for measure in names["stages"]:
        known = [fact["stages"][measure] for fact in facts if fact["stages"][measure] is not None]
        curve, seen = kaplan_meier(known), sum(stage[1] for stage in known)
        for tail, p in QUANTILES.items():
            low, high = median_interval(curve) if tail == "" else (None, None)
            rows[measure + tail, *place] = (n, seen, len(known), time_quantile(curve, p), low, high, n - len(known),
                                            partial)  # fmt: skip
    if place[1] not in ("asa_class", "asa_class x species"):
        for measure in TRENDS:
            pairs = [(case["asa_class"], fact["shares"][measure]) for case, fact in zip(cases, facts, strict=True)
                     if case["asa_class"] is not None and fact["shares"][measure] is not None]  # fmt: skip
            z, p = trend(pairs)
            rows[measure + "_asa_trend", *place] = (n, z, None, p, None, None, n - len(pairs), partial)
    if place[1] in ("all", "asa_class", "species", "machine_id"):
        add_total(rows, ("oxygen_l", *place), [fact["oxygen_l"] for fact in facts], partial)


def add_share(rows, key, values, partial):
    known = [value for value in values if value is not None]
    has, low_high = sum(known), wilson(sum(known), len(known))
    value = has / len(known) if known else None
    rows[key] = (len(values), has, len(known), value, *low_high, len(values) - len(known), partial)


def add_total(rows, key, values, partial):
    known = [value for value in values if value is not None]
    total = None if values and not known else sum(known)
    rows[key] = (len(values), total, None, total, None, None, len(values) - len(known), partial)


def add_totals(rows, period, record, cases, settings):
    """Totals by drug, agent and machine, and leak tests: rows that stand in a month of their own."""
    last_month = max(case["month"] for case in cases.values() if case["month"] is not None)
    by_drug = drug_totals(record, cases, settings)
    by_agent, by_machine = gas_totals(cases), machine_totals(record, cases, settings, last_month)
    for by, measures in (("drug", by_drug), ("agent", by_agent), ("machine_id", by_machine)):
        for measure, lines in measures.items():
            levels = {}
            for level, month, value in lines:
                if period["covers"](month):
                    levels.setdefault(level, []).append(value)
            for level, values in levels.items():
                add_total(rows, (measure, period["name"], by, level), values, period["partial"])
                if measure == "absorbent_hours":
                    add_since_change(rows, period, record, cases, settings, level, values)
    tests = [line for line in leak_tests(record) if period["covers"](line[1])]
    add_share(rows, ("leak_test_failed", period["name"], "all", "all"), [line[2] for line in tests], period["partial"])
    for machine in {line[0] for line in tests}:
        failed = [line[2] for line in tests if line[0] == machine]
        add_share(rows, ("leak_test_failed", period["name"], "machine_id", machine), failed, period["partial"])


def add_since_change(rows, period, record, cases, settings, machine, values):
    finish = float("inf")
    if period["until"] is not None:
        year, month = divmod(period["until"] + 1, 12)
        finish = datetime(year, month + 1, 1, tzinfo=ZoneInfo(settings.zone)).timestamp()
    hours = hours_since_change(record, cases, machine, finish)
    unknown = len([value for value in values if value is None])
    key = ("absorbent_hours_since_change", period["name"], "machine_id", machine)
    rows[key] = (len(values), hours, None, hours, None, None, unknown, period["partial"])
