"""Faults of events, recovery and equipment, E1 to E11."""

from clean_month import text_of
from fault_list import fault

TEST = {"machine_id": "M1", "at": "2026-03-02 07:00:00", "item": "breathing_system", "action": "leak_tested"}
MARK = {"machine_id": "M1", "at": "2026-03-03 07:00:00", "item": "absorbent", "action": "marked"}
EQUIPMENT = [TEST | {"value": "250", "unit": "mL/min"}, MARK | {"value": "", "unit": ""}]
TICKS = """
schema = 1
[[file]]
name = "ticks"
files = ["ticks*"]
table = "events"
[file.columns]
"Case" = "case_id"
[file.events]
"Low pressure" = "hypotension"
"Cold" = "hypothermia"
"""


def equipment_of(bench, cells: dict, mapping: str = ""):
    """The first equipment row with cells changed, loaded: (value, unit, machine) and the load."""
    loaded = bench.load({"equipment.csv": text_of([EQUIPMENT[0] | cells, EQUIPMENT[1]])}, mapping)
    return loaded.ask('SELECT value, unit, machine_id FROM equipment ORDER BY "at"')[0], loaded


@fault(
    "E1",
    "W",
    "free text with negation is no event",
    "a row of events is nothing without its event: quarantined, not only flagged",
)
def negation(bench):
    for row, words in zip(
        bench.month.events, ("no hypotension", "none noted", "? reflux", "BP ok after bolus"), strict=False
    ):
        row["event"] = words
    loaded = bench.load()
    account = loaded.account("events.csv")
    assert (account.new, account.quarantined, account.set_aside) == (2, 3, 1)
    assert loaded.ask("SELECT DISTINCT event FROM events") == [("hypotension",)]
    bench.others_unchanged(loaded, "C05", "C10", "C15", "C20")


@fault("E2", "A", "one event charted three times", "one a case and kind in rates: model case_complications")
def thrice(bench):
    event = bench.month.events[0]
    bench.month.events += [event | {"occurred_at": f"2026-03-05 09:{minute}:00"} for minute in (10, 15)]
    loaded = bench.load()
    assert loaded.ask("SELECT count(*) FROM events WHERE case_id = 'C05'") == [(3,)]
    bench.others_unchanged(loaded, "C05")


@fault("E3", "A", "none, and not filled in", "blank is not none: model case_charting")
def ticked(bench):
    rows = "Case;Low pressure;Cold\nC05;x;\nC06;no;no\nC07;;\nC08;ja;yes\n"
    loaded = bench.load(bench.without("events.csv") | {"ticks.csv": rows}, TICKS)
    assert loaded.ask("SELECT case_id, event FROM events ORDER BY ALL") == [
        ("C05", "hypotension"), ("C08", "hypotension"), ("C08", "hypothermia")]  # fmt: skip
    account = loaded.account("ticks.csv")
    assert (account.lines, account.read, account.set_aside) == (4, 2, 2)


@fault(
    "E4",
    "W",
    "event without its sign, sign without its event",
    "model case_agreement; check events_sign_seen, check events_sign_charted",
)
def agreement(bench):
    loaded = bench.load()
    bench.others_unchanged(loaded)


@fault("E5", "A / W", "scales of severity")
def severity(bench):
    for row, word in zip(bench.month.events, ("mild", "mod", "schwer", "orange"), strict=False):
        row["severity"] = word
    loaded = bench.load()
    told = [value for (value,) in loaded.ask("SELECT severity FROM events ORDER BY case_id")]
    assert told[:4] == ["minor", "moderate", "severe", None]
    mapped = bench.load(mapping='schema = 1\n[words.severity]\n"orange" = "moderate"\n')
    assert mapped.ask("SELECT severity FROM events WHERE case_id = 'C20'") == [("moderate",)]
    bench.others_unchanged(loaded, "C05", "C10", "C15", "C20")


@fault(
    "E6",
    "S once",
    "recovery scores of unknown direction",
    "the record has no column of scores: a score is not loaded, and listed",
)
def scores(bench):
    rows = [row | {"recovery_score": "3/5"} for row in bench.month.cases]
    loaded = bench.load(bench.month.files() | {"cases.csv": text_of(rows)})
    assert any("recovery_score" in note.sentence for note in loaded.account("cases.csv").notes)
    bench.others_unchanged(loaded)


@fault("E7", "A", "no time to stand, or to the sternum", "censored: model recovery_stages")
def censored(bench):
    loaded = bench.load()
    assert loaded.ask("SELECT count(standing_at) FROM cases") == [(0,)]


@fault("E8", "A / W", "names for machines")
def machines(bench):
    named, _ = equipment_of(
        bench, {"machine_id": "blue one"}, 'schema = 1\n[words.machine_id]\n"blue one" = "M2"\n"Masch. 2" = "M2"\n'
    )
    assert named[2] == "M2"
    assert equipment_of(bench, {"machine_id": "blue one"})[0][2] == "blue one"


@fault("E9", "A / W", "results of checks in words")
def results(bench):
    assert equipment_of(bench, {"value": "leak 250 ml", "unit": ""})[0][0] == 250
    assert equipment_of(bench, {"value": "0.25", "unit": "L/min"})[0][:2] == (250, "mL/min")
    for word in ("pass", "i.O.", "ok*"):
        row, loaded = equipment_of(bench, {"value": word})
        assert row[0] is None
        assert loaded.notes("W") == {"check_in_words": 1}


@fault(
    "E10",
    "W",
    "counters set back, hours and minutes",
    "within a charge: model absorbent_charges; check equipment_marks_fit_hours",
)
def counters(bench):
    rows = [
        EQUIPMENT[0] | {"at": "2026-03-04 07:00:00", "value": "4120"},
        EQUIPMENT[0] | {"at": "2026-03-05 07:00:00", "value": "3"},
    ]
    loaded = bench.load({"equipment.csv": text_of(rows)})
    assert loaded.ask('SELECT value FROM equipment ORDER BY "at"') == [(4120,), (3,)]


@fault("E11", "W", "two cases on one machine at once", "check cases_machine_overlap")
def overlap(bench):
    bench.month.case("C06").update(induction_at="2026-03-05 08:20:00", intubation_at="2026-03-05 08:24:00")
    loaded = bench.load(bench.without("vitals.csv", "drugs.csv", "events.csv"))
    assert loaded.account("cases.csv").new == 30
