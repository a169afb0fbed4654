"""The chart page of one anesthetic, for the discussion of a case."""

from pathlib import Path

from pipeline.reporting.cases.chart import chart
from pipeline.reporting.cases.record import Record, read
from pipeline.reporting.display import Display, listing, words
from pipeline.reporting.frame import Column, Figure, Page, Section, Table, write_page
from pipeline.reporting.write import FOLDER


def case_page(db, settings, clinic: Path, case_id: str) -> Path:
    """Writes clinic/reports/case_ID.html and its tables; returns the page's path.

    Raises UserFault when no such case is loaded.
    """
    record, display = read(db, settings, case_id), Display(settings.display)
    page = Page(
        name=f"case_{file_part(case_id)}",
        title=f"Case {case_id}",
        clinic=settings.name,
        period=display.day(record.window.get("start_day")),
        sections=[whole(record, display), found(record, display), given(record, display)],
        methods=["periods", "limits", "temperature", "recovery"],
        lead=[describe(record, display), detected(record), charted(record)],
    )
    return write_page(page, settings, db, clinic / FOLDER)[0]


def file_part(case_id: str) -> str:
    """A case number as part of a file name: letters, digits, hyphen; the rest as its code."""
    return "".join(c if c.isalnum() and c.isascii() or c == "-" else f"_{ord(c):x}" for c in case_id)


def describe(record: Record, display: Display) -> str:
    """'Dog, 24.1 kg, ASA 3, emergency; orthopedic under isoflurane, mechanical ventilation; 96 min.'"""
    case = record.case
    animal = [words(case["species"] or "species not recorded").capitalize()]
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


def whole(record: Record, display: Display) -> Section:
    rows = [[parameter_words(name), record.local(record.origin_s + round(minute * 60)), value, "used"]
            for name, (times, values) in record.readings.items() for minute, value in zip(times, values, strict=True)]  # fmt: skip
    for name, (times, values, reasons) in record.removed.items():
        for minute, value, reason in zip(times, values, reasons, strict=True):
            at = record.local(record.origin_s + round(minute * 60))
            rows.append([parameter_words(name), at, value, f"left out: {words(reason)}"])
    table = Table("readings", "Every reading, as charted", [Column("Reading"), Column("At", "moment"),
                  Column("Value", "number", digits=1), Column("Use")], rows)  # fmt: skip
    caption = ("Shaded: beyond a limit that holds for this animal. Thick line under a panel: found beyond it long enough to "
               "count. Cross: a reading left out. A gap in a line is a gap in the record. Dotted uprights: stages.")  # fmt: skip
    finding = detected(record).rstrip(".")
    return Section("chart", "The anesthetic", "What happened, in order?",
                   [Figure("anesthetic", finding, chart(record, display), table, caption, "limits")])  # fmt: skip


def parameter_words(name: str) -> str:
    from pipeline.schema import PARAMETERS

    return f"{words(name)}, {PARAMETERS[name]}"


def found(record: Record, display: Display) -> Section:
    rows = [[words(one["measure"]).capitalize(), record.local(record.origin_s + round(one["start"] * 60)), one["minutes"],
             one["worst"]] for one in record.episodes]  # fmt: skip
    episodes = Table("episodes", "Times beyond a limit", [Column("What"), Column("From", "moment"), Column("Lasted", "minutes"),
                     Column("Furthest beyond", "number", "unit of the reading")], rows)  # fmt: skip
    stages = Table("stage-times", "Stages", [Column("Stage"), Column("At", "moment"), Column("After the start", "minutes")],
                   [[said, record.local(record.origin_s + round(minute * 60)), minute] for minute, said in record.stages])  # fmt: skip
    return Section("found", "What was found", "When did readings leave their limits, and when was each stage reached?",
                   [episodes, stages])  # fmt: skip


def given(record: Record, display: Display) -> Section:
    doses = [[dose["drug"], clock(record, dose["minute"]), dose["amount"], dose["unit"], dose["route"], dose["phase"]]
             for dose in record.doses]  # fmt: skip
    events = [[words(one["event"]).capitalize(), clock(record, one["minute"]), one["severity"], one["action"]]
              for one in record.events]  # fmt: skip
    return Section("given", "What was given and charted", "Which drugs, and what was written down?", [
        Table("doses", "Drugs", [Column("Drug"), Column("At", "moment"), Column("Amount", "number", digits=2), Column("Unit"),
                                 Column("Route"), Column("Phase")], doses),
        Table("events", "Charted events", [Column("Event"), Column("At", "moment"), Column("Severity"), Column("Done")], events),
    ])  # fmt: skip


def clock(record: Record, minute: float | None):
    return None if minute is None else record.local(record.origin_s + round(minute * 60))
