"""The chart page of one anesthetic, for the discussion of a case."""

from pathlib import Path

from pipeline.reporting.cases.chart import chart
from pipeline.reporting.cases.record import Record, read
from pipeline.reporting.cases.words import CAPTION, charted, describe, detected, file_part, parameter_words
from pipeline.reporting.display import Display, first_upper, words
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


def whole(record: Record, display: Display) -> Section:
    rows = [
        [
            parameter_words(name, display),
            record.local(record.origin_s + round(minute * 60)),
            shown(name, value, display),
            "used",
        ]
        for name, (times, values) in record.readings.items()
        for minute, value in zip(times, values, strict=True)
    ]
    for name, (times, values, reasons) in record.removed.items():
        for minute, value, reason in zip(times, values, reasons, strict=True):
            at = record.local(record.origin_s + round(minute * 60))
            rows.append([parameter_words(name, display), at, shown(name, value, display), f"left out: {words(reason)}"])
    table = Table("readings", "Every reading, as charted", [Column("Reading"), Column("At", "moment"),
                  Column("Value", "number", digits=1), Column("Use")], rows)  # fmt: skip
    finding = detected(record).rstrip(".")
    return Section("chart", "The anesthetic", "What happened, in order?",
                   [Figure("anesthetic", finding, chart(record, display), table, CAPTION, "limits")])  # fmt: skip


def shown(name: str, value: float, display: Display) -> float:
    return display.celsius(value) if name == "temperature" else value


def found(record: Record, display: Display) -> Section:
    rows = [
        [
            first_upper(words(one["measure"])),
            record.local(record.origin_s + round(one["start"] * 60)),
            one["minutes"],
            one["worst"],
        ]
        for one in record.episodes
    ]
    episodes = Table(
        "episodes",
        "Times beyond a limit",
        [
            Column("What"),
            Column("From", "moment"),
            Column("Lasted", "minutes"),
            Column("Furthest beyond", "number", "unit of the reading"),
        ],
        rows,
    )
    stages = Table(
        "stage-times",
        "Stages",
        [Column("Stage"), Column("At", "moment"), Column("After the start", "minutes")],
        [
            [first_upper(said), record.local(record.origin_s + round(minute * 60)), minute]
            for minute, said in record.stages
        ],
    )
    return Section("found", "What was found", "When did readings leave their limits, and when was each stage reached?",
                   [episodes, stages])  # fmt: skip


def given(record: Record, display: Display) -> Section:
    doses = [[dose["drug"], clock(record, dose["minute"]), dose["amount"], dose["unit"], dose["route"], dose["phase"]]
             for dose in record.doses]  # fmt: skip
    events = [[first_upper(words(one["event"])), clock(record, one["minute"]), one["severity"], one["action"]]
              for one in record.events]  # fmt: skip
    return Section(
        "given",
        "What was given and charted",
        "Which drugs, and what was written down?",
        [
            Table(
                "doses",
                "Drugs",
                [
                    Column("Drug"),
                    Column("At", "moment"),
                    Column("Amount", "number", digits=2),
                    Column("Unit"),
                    Column("Route"),
                    Column("Phase"),
                ],
                doses,
            ),
            Table(
                "events",
                "Charted events",
                [Column("Event"), Column("At", "moment"), Column("Severity"), Column("Done")],
                events,
            ),
        ],
    )


def clock(record: Record, minute: float | None):
    return None if minute is None else record.local(record.origin_s + round(minute * 60))
