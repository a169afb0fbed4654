"""Faults of missing values, texts and numbers, N1 to N9."""

from clean_month import text_of
from fault_list import fault
from faults_of_files import MAPPING


@fault("N1", "A", "spellings of missing; NA stays in columns of names")
def missing(bench):
    words = [" ", "-", "--", "n/a", "NR", "not rec.", "k.A.", "s/o", "?", ".", "NULL", "None"]
    cases = [f"C{number:02d}" for number in range(5, 5 + len(words))]
    for case, word in zip(cases, words, strict=True):
        bench.month.case(case)["weight_kg"] = word
    bench.month.case("C01")["anesthetist"] = "NA"
    loaded = bench.load()
    assert {loaded.cell("weight_kg", case) for case in cases} == {None}
    assert loaded.cell("anesthetist", "C01") == "NA"
    assert loaded.quarantined() == []
    bench.others_unchanged(loaded, "C01", *cases)


@fault("N2", "N", "a number that stands for missing")
def stand_ins(bench):
    bench.month.case("C05")["weight_kg"] = "-100"
    bench.month.reading("C06", "temperature")["value"] = "0"
    loaded = bench.load()
    assert loaded.cell("weight_kg", "C05") is None
    assert (
        loaded.ask("SELECT count(value), count(*) FROM vitals WHERE case_id = 'C06' AND parameter = 'temperature'")[0][
            0
        ]
        == 9
    )
    assert loaded.notes("N")["missing_number"] == 2
    bench.others_unchanged(loaded, "C05", "C06")


@fault("N3", "A / S", "decimal comma, thousands; 1,234 alone is asked about")
def commas(bench):
    for row in bench.month.cases:
        row["weight_kg"] = row["weight_kg"].replace(".", ",")
        row["age_years"] = "6,5"
    loaded = bench.load(bench.month.files() | {"cases.csv": text_of(bench.month.cases, ";")})
    assert loaded.account("cases.csv").decimal == ","
    bench.others_unchanged(loaded)
    for number, row in enumerate(bench.month.cases):
        row["weight_kg"], row["age_years"] = f"1,2{number:02d}", "6"
    refused = bench.load(bench.month.files() | {"cases.csv": text_of(bench.month.cases, ";")}).receipt.refused
    assert len(refused) == 1 and "comma" in str(refused[0])


@fault("N4", "A / N", "unit or sign inside the cell")
def inside(bench):
    bench.month.case("C05")["weight_kg"] = "12.4 kg"
    bench.month.reading("C06", "spo2")["value"] = "98%"
    bench.month.reading("C07", "temperature")["value"] = "~37"
    bench.month.reading("C08", "temperature")["value"] = "<34"
    loaded = bench.load()
    assert loaded.cell("weight_kg", "C05") == 12.4
    assert [loaded.value("C06", "spo2"), loaded.value("C07", "temperature"), loaded.value("C08", "temperature")] == [
        98,
        37,
        34,
    ]
    assert loaded.notes("N")["number_with_sign"] == 2
    bench.others_unchanged(loaded, "C05", "C06", "C07", "C08")


@fault("N5", "A / W", "two values in a cell")
def two(bench):
    mapping = MAPPING.replace('"log"', '"bp"').replace('"log*"', '"bp*"').replace('"cases"', '"vitals"')
    mapping = mapping[: mapping.index('"Animal"')] + '"When" = "taken_at"\n"BP" = "blood_pressure"\n'
    lines = "Case;When;BP\nC05;2026-03-05 09:30;120/80 (93)\nC05;2026-03-05 09:31;80/120\n"
    bench.month.reading("C06", "temperature")["value"] = "36.8-35.9"
    loaded = bench.load(bench.month.files() | {"bp.csv": lines}, mapping)
    at = "SELECT parameter, value FROM vitals WHERE case_id = 'C05' AND taken_at = '2026-03-05 09:30:00' ORDER BY ALL"
    assert loaded.ask(at) == [("dap", 80.0), ("map", 93.0), ("sap", 120.0)]
    assert ("blood_pressure", "80/120", None) in loaded.flagged()
    assert loaded.notes("W")["range_of_values"] == 1
    bench.others_unchanged(loaded, "C05", "C06")


@fault("N6", "A / Q", "ids damaged by a spreadsheet")
def ids(bench):
    for row in bench.month.cases:
        row["case_id"] = {"C05": "1.23E+08", "C06": "2-Mar", "C07": "007"}.get(row["case_id"], row["case_id"])
    loaded = bench.load(bench.without("vitals.csv", "drugs.csv", "events.csv"))
    assert [row[1:3] for row in loaded.quarantined()] == [("case_id", "1.23E+08"), ("case_id", "2-Mar")]
    assert loaded.cell("species", "007") == "dog"


@fault("N7", "A / W", "spaces, case and look-alikes in ids")
def look_alikes(bench):
    bench.month.case("C05")["case_id"] = " C05 "
    bench.month.case("C06")["case_id"] = "Α06"
    loaded = bench.load(bench.without("vitals.csv", "drugs.csv", "events.csv"))
    assert loaded.cell("species", "C05") == "dog"
    assert loaded.notes("W")["look_alike_letters"] == 1
    folded = MAPPING.replace('table = "cases"', 'table = "cases"\nfold_case = true')
    loaded = bench.load({"log.csv": "Case;Animal;Weight;Induced\nc05;dog;12.4;2026-03-05 08:05\n"}, folded)
    assert loaded.ask("SELECT case_id FROM cases") == [("C05",)]


@fault("N8", "A", "yes and no; blank is unknown unless mapping.toml says otherwise")
def yes_no(bench):
    yes, no = ["y", "J", "oui", "x", "1", "✓", "TRUE"], ["n", "nein", "0", "non"]
    for number, word in enumerate([*yes, *no, ""], 5):
        bench.month.case(f"C{number:02d}")["emergency"] = word
    loaded = bench.load()
    told = [loaded.cell("emergency", f"C{number:02d}") for number in range(5, 5 + len(yes) + len(no) + 1)]
    assert told == [True] * len(yes) + [False] * len(no) + [None]
    asked = MAPPING.replace('table = "cases"', 'table = "cases"\nblank_is_no = ["emergency"]').replace(
        '"Animal" = "species"', '"Urgent" = "emergency"'
    )
    loaded = bench.load({"log.csv": "Case;Urgent;Weight;Induced\nC05;;12.4;2026-03-05 08:05\n"}, asked)
    assert loaded.cell("emergency", "C05") is False
    assert loaded.notes("N")["blank_is_no"] == 1


@fault("N9", "W", "a misspelled word: the nearest is suggested, never taken")
def misspelled(bench):
    bench.month.events[0]["severity"] = "ill_moderatete"
    bench.month.events[1]["severity"] = "moderatete"
    loaded = bench.load()
    assert loaded.ask("SELECT severity FROM events WHERE case_id IN ('C05', 'C10')") == [(None,), (None,)]
    assert ("severity", "moderatete", "moderate") in loaded.flagged()
    bench.others_unchanged(loaded, "C05", "C10")
