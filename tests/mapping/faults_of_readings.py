"""Faults of readings and their sensors, V1 to V18."""

from clean_month import text_of
from fault_list import fault

READINGS = "model vital_readings"


def readings_of(bench, parameter: str, cells: dict[int, str], case: str = "C05"):
    """The month with some readings of a case changed (step -> value), loaded."""
    for step, cell in cells.items():
        bench.month.reading(case, parameter, step)["value"] = cell
    loaded = bench.load()
    bench.others_unchanged(loaded, case)
    return loaded


@fault("V1", "A flag", "end-tidal CO2 of 0 while disconnected", f"an artefact, left out: {READINGS}")
def disconnected(bench):
    loaded = readings_of(bench, "etco2", {3: "0", 4: "0"})
    assert [loaded.value("C05", "etco2", step) for step in (3, 4)] == [0, 0]


@fault("V2", "A flag", "saturation without a pulse signal", f"an artefact, left out: {READINGS}")
def no_pulse(bench):
    bench.month.reading("C05", "heart_rate", 3)["value"] = "0"
    loaded = readings_of(bench, "spo2", {3: "71"})
    assert (loaded.value("C05", "spo2", 3), loaded.value("C05", "heart_rate", 3)) == (71, 0)


@fault("V3", "A flag", "temperature probe in the room", f"an artefact, left out: {READINGS}")
def room(bench):
    assert readings_of(bench, "temperature", {1: "21.4"}).value("C05", "temperature", 1) == 21.4


@fault(
    "V4",
    "A flag",
    "temperature after the probe came out",
    f"out of bounds, left out: {READINGS}; check vitals_temperature_dip",
)
def removed(bench):
    assert readings_of(bench, "temperature", {10: "27"}).value("C05", "temperature", 10) == 27


@fault("V5", "A / W", "Celsius and Fahrenheit in one column")
def scales(bench):
    loaded = readings_of(bench, "temperature", {1: "98.6", 2: "99.5 °F", 3: "60"})
    # 98.6 °F = 37.00 °C and 99.5 °F = 37.50 °C, NIST SP 811: (F - 32) / 1.8
    assert [loaded.value("C05", "temperature", step) for step in (1, 2, 3)] == [37.0, 37.5, None]
    assert loaded.notes("A") == {"fahrenheit_by_value": 1, "unit_converted": 1}
    assert loaded.flagged() == [("value", "60", None)]


@fault("V6", "A / S", "mmHg and kPa")
def kilopascal(bench):
    # 5.1 kPa = 38.3 mmHg and 9.3 kPa = 69.8 mmHg at 7.50062 mmHg/kPa
    loaded = readings_of(bench, "etco2", {1: "5.1 kPa"})
    assert loaded.value("C05", "etco2", 1) == 38.3
    wide = [
        {"case_id": "C05", "taken_at": f"2026-03-05 08:{10 + step}:00", "etco2": f"5.{step}", "map": "82"}
        for step in range(8)
    ]
    loaded = bench.load(bench.without("vitals.csv") | {"vitals.csv": text_of(wide)})
    assert len(loaded.receipt.refused) == 1 and "kPa or mmHg" in str(loaded.receipt.refused[0])
    units = "case_id,taken_at,etco2,map\n,,kPa,mmHg\n" + text_of(wide).split("\n", 1)[1]
    loaded = bench.load(bench.without("vitals.csv") | {"vitals.csv": units})
    assert (loaded.value("C05", "etco2", 2), loaded.value("C05", "map", 2)) == (38.3, 82)


@fault("V7", "A / W", "saturation as a fraction")
def fractions(bench):
    loaded = readings_of(bench, "spo2", {1: "0.97"})
    assert loaded.value("C05", "spo2", 1) is None
    assert loaded.notes("W") == {"fraction_among_percent": 1}
    for row in bench.month.vitals:
        if row["parameter"] == "spo2":
            row["value"] = "0.97"
    loaded = bench.load()
    assert {loaded.value(case, "spo2") for case in ("C05", "C06")} == {97}


@fault("V8", "Q value", "values no body has", f"outside the bounds of the species, left out: {READINGS}")
def impossible(bench):
    loaded = readings_of(bench, "spo2", {1: "104"})
    assert loaded.value("C05", "spo2", 1) == 104
    assert readings_of(bench, "map", {1: "-3"}).value("C05", "map", 1) == -3


@fault("V9", "W", "cuff artefacts, systolic below diastolic", "check vitals_pressure_order, check vitals_mean_pressure")
def cuff(bench):
    loaded = readings_of(bench, "map", {2: "180"})
    assert loaded.value("C05", "map", 2) == 180


@fault(
    "V10",
    "N",
    "mean pressure blank beside the others",
    "hypotension is told by the systolic then, none is derived: model case_exposures",
)
def no_mean(bench):
    bench.month.vitals = [row for row in bench.month.vitals if (row["case_id"], row["parameter"]) != ("C05", "map")]
    loaded = bench.load()
    assert loaded.ask("SELECT count(*) FROM vitals WHERE case_id = 'C05' AND parameter = 'map'") == [(0,)]
    bench.others_unchanged(loaded, "C05")


@fault("V11", "W", "one pressure of unknown kind")
def doppler(bench):
    rows = "Case;When;BP\nC05;2026-03-05 09:30;85\n"
    mapping = """
schema = 1
[[file]]
name = "bp"
files = ["bp*"]
table = "vitals"
[file.columns]
"Case" = "case_id"
"When" = "taken_at"
"BP" = "blood_pressure"
"""
    loaded = bench.load(bench.month.files() | {"bp.csv": rows}, mapping)
    assert loaded.flagged() == [("blood_pressure", "85", None)]
    bench.others_unchanged(loaded)


@fault("V12", "A flag", "flushed or open transducer", "check vitals_line_flush")
def flush(bench):
    loaded = readings_of(bench, "map", {2: "250", 3: "5"})
    assert [loaded.value("C05", "map", step) for step in (2, 3)] == [250, 5]


@fault("V13", "W", "one value carried forward", "check vitals_copied_forward")
def flat(bench):
    loaded = readings_of(bench, "heart_rate", dict.fromkeys(range(1, 9), "92"))
    assert loaded.value("C05", "heart_rate", 8) == 92


@fault("V14", "A", "spellings of units and parameters")
def spellings(bench):
    words = {"heart_rate": "HR (bpm)", "temperature": "Temp (°C)", "sap": "systolic", "etco2": "EtCO2"}
    for row in bench.month.vitals:
        row["parameter"] = words.get(row["parameter"], row["parameter"])
    loaded = bench.load()
    assert loaded.notes("A")["parameter_word"] == 4 * 300
    bench.others_unchanged(loaded)


@fault("V15", "A", "agent with its percent, or its gas")
def agents(bench):
    for case, cell in {"C05": "iso 1.8", "C06": "ISO/O2", "C07": "Sevo 2,5 %"}.items():
        bench.month.case(case)["agent"] = cell
    loaded = bench.load()
    assert [loaded.cell("agent", case) for case in ("C05", "C06", "C07")] == ["isoflurane", "isoflurane", "sevoflurane"]
    assert loaded.notes("N")["agent_percent"] == 2
    for case in ("C05", "C06", "C07"):
        bench.month.reading(case, "etco2")["parameter"] = "vaporizer_setting"
    bench.month.reading("C05", "vaporizer_setting")["value"] = "1.8 %"
    assert bench.load().value("C05", "vaporizer_setting") == 1.8


@fault(
    "V16",
    "A",
    "readings every 5 min and every 10 s",
    "each stands until the next, at most hold_max: model parameter_holds",
)
def densities(bench):
    more = [
        bench.month.reading("C05", "heart_rate") | {"taken_at": f"2026-03-05 08:12:{second}0"} for second in range(6)
    ]
    bench.month.vitals += more
    loaded = bench.load()
    assert loaded.account("vitals.csv").new == 2106
    bench.others_unchanged(loaded, "C05")


@fault(
    "V17", "A", "readings after the end or after death", "windows of the case: model case_windows; check vitals_alive"
)
def late(bench):
    bench.month.vitals.append(bench.month.reading("C05", "heart_rate") | {"taken_at": "2026-03-05 11:00:00"})
    loaded = bench.load()
    assert loaded.account("vitals.csv").new == 2101
    bench.others_unchanged(loaded, "C05")


@fault("V18", "A", "what is normal differs by species", "limits are rows by species: model case_limits")
def animals(bench):
    loaded = readings_of(bench, "heart_rate", {1: "240"}, case="C06")
    assert loaded.value("C06", "heart_rate") == 240
