"""Second reading, part 3: complications, deaths, agreement of charted and detected, recovery stages."""

from pipeline.schema import EVENTS

DAYS_2 = 48 * 3600
AGREEMENT = ("hypoventilation", "hyperventilation", "hypoxemia", "hypotension", "hypothermia", "bradycardia",
             "tachycardia")  # fmt: skip
STAGES = {"to_extubation": "extubation_at", "to_sternal": "sternal_at", "to_standing": "standing_at",
          "to_handover": "recovery_end_at"}  # fmt: skip


def sites_that_chart(cases, settings):
    """Sites at which events are recorded."""
    sites = {case["site"] for case in cases.values() if case["events"]}
    for case in cases.values():
        said = settings.events.recorded
        if said is True or (isinstance(said, list) and case["site"] in said):
            sites.add(case["site"])
    return sites


def add_complications(case, facts, sites, settings):
    charted = case["site"] in sites and case["day"] is not None
    if charted and settings.events.from_ is not None and case["day"] < settings.events.from_:
        charted = False
    events = {row["event"] for row in case["events"]}
    facts["shares"]["complication"] = int(bool(events - {"other"})) if charted else None
    for event in EVENTS:
        if event != "other":
            facts["shares"][f"complication_{event}"] = int(event in events) if charted else None
    for measure in AGREEMENT:
        detected, both, only, missed = facts["shares"][measure], None, None, None
        if charted and detected is not None and case["windowed"]:
            times = [row["occurred_at_s"] for row in case["events"] if row["event"] == measure]
            noted = any(t is None or case["start"] <= t <= case["end"] for t in times)
            both, only, missed = int(detected and noted), int(detected and not noted), int(noted and not detected)
        facts["shares"][f"agreement_{measure}_both"] = both
        facts["shares"][f"agreement_{measure}_detected_only"] = only
        facts["shares"][f"agreement_{measure}_charted_only"] = missed


def add_death(case, facts, settings, as_of):
    facts["shares"]["death_48h"] = death_48h(case, settings, as_of)
    put_down = 0
    if case["outcome"] == "euthanised":
        moment = case["outcome_at_s"]
        if moment is None or (case["windowed"] and moment <= case["end"] + DAYS_2):
            put_down = 1
    facts["shares"]["euthanasia_48h"] = put_down


def death_48h(case, settings, as_of):
    """1, 0, or None where it cannot be judged."""
    if not case["windowed"]:
        return None
    until, moment = case["end"] + DAYS_2, case["outcome_at_s"]
    if case["outcome"] == "euthanised":
        if moment is None or moment <= until:
            return None
        return 0
    events = [row["occurred_at_s"] for row in case["events"] if row["event"] == "death"]
    if case["outcome"] == "died" or events:
        known = [t for t in events if t is not None]
        died = moment if case["outcome"] == "died" and moment is not None else min(known) if known else None
        if died is None:
            return 1
        if died < case["start"]:
            return None
        return int(died <= until)
    if as_of - case["start"] < DAYS_2:
        return None
    followed = max([t for t in (case["followed_until_s"], moment) if t is not None], default=None)
    if followed is not None and followed >= until:
        return 0
    return 0 if settings.deaths.assume_alive else None


def origin_of_recovery(case, settings):
    if case["agent"] != "none":
        return case["vaporizer_off_at_s"]
    stops = [
        row["stopped_at_s"]
        for row in case["drugs"]
        if row["kind"] == "infusion" and row["phase"] == "maintenance" and row["drug"] in settings.recovery.hypnotics
    ]
    return max([t for t in stops if t is not None], default=None)


def stage(case, measure, origin):
    """(minutes, seen 1 or 0) or None where it cannot be judged."""
    if origin is None or (measure == "to_extubation" and case["airway"] != "tracheal_tube"):
        return None
    names = list(STAGES)
    moment, seen = case[STAGES[measure] + "_s"], 1
    if moment is None:
        later = [case[STAGES[name] + "_s"] for name in names[names.index(measure) + 1 :]]
        if any(t is not None for t in later) or case["outcome"] == "alive" or case["recovery_end_at_s"] is not None:
            return None
        seen, lost = 0, case["outcome_at_s"]
        gone = case["outcome"] in ("died", "euthanised") and lost is not None and case["end"] is not None
        if gone and lost <= case["end"] + DAYS_2:
            moment = lost
        else:
            moment = max([row["taken_at_s"] for row in case["vitals"] if row["taken_at_s"] > origin], default=None)
    if moment is None or moment < origin:
        return None
    return (moment - origin) / 60, seen


def add_recovery(case, facts, settings):
    origin = origin_of_recovery(case, settings)
    for measure in STAGES:
        facts["stages"][measure] = stage(case, measure, origin)
    sternal, prolonged = facts["stages"]["to_sternal"], None
    if sternal is not None:
        minutes, seen = sternal
        if seen:
            prolonged = int(minutes > 30)
        elif minutes >= 30:
            prolonged = 1
    facts["shares"]["prolonged_recovery"] = prolonged
