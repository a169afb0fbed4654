"""One anesthetic in words: the animal, what the readings show, what was charted."""

from pipeline.reporting.cases.record import Record
from pipeline.reporting.display import Display, first_upper, listing, words
from pipeline.reporting.frame import Column, Table

CAPTION = (
    "Shaded: beyond a limit that holds for this animal. Thick line under a panel: beyond it long enough to count. "
    "Cross: a reading left out. A gap in a line is a gap in the record. Dotted uprights: stages."
)


def file_part(case_id: str) -> str:
    """A case number as part of a file name: letters, digits, hyphen; the rest as its code."""
    return "".join(c if c.isalnum() and c.isascii() or c == "-" else f"_{ord(c):x}" for c in case_id)


def describe(record: Record, display: Display) -> str:
    """'Dog, 24.1 kg, ASA 3, emergency; orthopedic under isoflurane, mechanical ventilation; 96 min.'"""
    case = record.case
    animal = [first_upper(words(case["species"] or "species not recorded"))]
    animal.append(display.weight(case["weight_kg"]) if case["weight_kg"] is not None else "weight not recorded")
    animal.append(f"ASA {case['asa_class']}" if case["asa_class"] else "ASA class not recorded")
    animal += ["emergency"] if case["emergency"] else []
    done = [words(case["procedure_group"] or "procedure not recorded")]
    done[0] += f" under {case['agent']}" if case["agent"] and case["agent"] != "none" else ""
    done += [f"{words(case['ventilation'])} ventilation"] if case["ventilation"] else []
    minutes = record.window.get("anesthesia_min")
    length = f"; {display.number(minutes, 0)} min of anesthesia" if minutes else "; end not recorded"
    return f"{', '.join(animal)}; {', '.join(done)}{length}."


def detected(record: Record) -> str:
    """What the readings show, longest first."""
    total: dict[str, float] = {}
    for one in record.episodes:
        total[one["measure"]] = total.get(one["measure"], 0) + one["minutes"]
    if not total:
        return "No reading stayed beyond its limit long enough to count."
    ranked = sorted(total.items(), key=lambda item: (-item[1], item[0]))
    return "Readings show " + listing([f"{words(name)} for {minutes:.0f} min" for name, minutes in ranked]) + "."


def charted(record: Record) -> str:
    events = [words(one["event"]) for one in record.events]
    out = f"Charted: {listing(events)}." if events else "No complication was charted."
    return out + (f" Outcome: {words(record.case['outcome'])}." if record.case["outcome"] else " Outcome not recorded.")


def parameter_words(name: str, display: Display) -> str:
    """'heart rate, /min'."""
    from pipeline.schema import PARAMETERS

    return f"{first_upper(words(name))}, {display.temperature_unit if name == 'temperature' else PARAMETERS[name]}"


def readings_table(record: Record, id: str, display: Display) -> Table:
    """Per parameter: readings used, left out, lowest and highest, temperatures in the unit shown."""
    rows = []
    for name, (times, values) in record.readings.items():
        low, high = min(values), max(values)
        if name == "temperature":
            low, high = display.celsius(low), display.celsius(high)
        rows.append(
            [parameter_words(name, display), len(times), len(record.removed.get(name, ([], [], []))[0]), low, high]
        )
    columns = [Column("Reading"), Column("Used", "count"), Column("Left out", "count"), Column("Lowest", "number"),
               Column("Highest", "number")]  # fmt: skip
    return Table(id, "Readings", columns, rows)
