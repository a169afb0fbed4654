"""Faults of dates and times, T1 to T17. Local times are of Europe/Berlin."""

from datetime import datetime, timedelta

from clean_month import stamp, text_of
from fault_list import fault
from faults_of_cases import ALONE, cases_of
from faults_of_files import MAPPING, book

CLOCKS = """
schema = 1
[[file]]
name = "log"
files = ["log*"]
table = "cases"
[file.columns]
"Case" = "case_id"
"Day" = "day"
"Start" = "induction_at"
"Tube" = "intubation_at"
"End" = "extubation_at"
"""
MONITOR = """
schema = 1
[[file]]
name = "monitor"
files = ["monitor*"]
table = "vitals"
[file.columns]
"Case" = "case_id"
"Day" = "day"
"Clock" = "taken_at"
"HR" = "heart_rate"
"""


@fault("T1", "S / A", "day and month that could be exchanged")
def order(bench):
    rows = [
        row | {"induction_at": f"0{number % 9 + 1}/06/2025 08:05"} for number, row in enumerate(bench.month.cases[:5])
    ]
    loaded = bench.load({"cases.csv": text_of(rows)})
    assert len(loaded.receipt.refused) == 1 and "day" in str(loaded.receipt.refused[0])
    rows[4]["induction_at"] = "25/06/2025 08:05"
    loaded = bench.load({"cases.csv": text_of(rows)})
    assert str(loaded.cell("induction_at", "C01")) == "2025-06-01 08:05:00"


@fault("T2", "A / Q", "two formats in a column")
def formats(bench):
    loaded = cases_of(bench, "induction_at", {"C05": "5.3.26 08:05", "C06": "2026/03/06 08:05", "C07": "soon"})
    assert str(loaded.cell("induction_at", "C05")) == "2026-03-05 08:05:00"
    assert str(loaded.cell("induction_at", "C06")) == "2026-03-06 08:05:00"
    assert [row[:3] for row in loaded.quarantined() if row[1] == "induction_at"] == [("C07", "induction_at", "soon")]


@fault("T3", "N", "a spreadsheet's day number, 1900 and 1904")
def serials(bench):
    # 45000.5 is 2023-03-15 12:00 in the 1900 system (messy exports of spreadsheets, Excel's own day count).
    loaded = cases_of(bench, "induction_at", {"C05": "45000.5"})
    assert str(loaded.cell("induction_at", "C05")) == "2023-03-15 12:00:00"
    assert loaded.notes("N")["spreadsheet_serial"] == 1
    rows = [["Case", "Animal", "Weight", "Induced"], ["C05", "dog", 12.4, 43538.5], ["C06", "cat", 4.2, 43539.25]]
    loaded = bench.load({"log.xlsx": book({"Log": rows}, date_1904=True)}, MAPPING)
    assert str(loaded.cell("induction_at", "C05")) == "2023-03-15 12:00:00"
    assert loaded.notes("N")["spreadsheet_serial"] == 2


@fault("T4", "A", "two-digit years, month words")
def words(bench):
    loaded = cases_of(
        bench, "induction_at", {"C05": "5-Mai-25 08:05", "C06": "6 mars 2026 08:05", "C07": "7. März 26, 8.05 Uhr"}
    )
    told = [str(loaded.cell("induction_at", case)) for case in ("C05", "C06", "C07")]
    assert told == ["2025-05-05 08:05:00", "2026-03-06 08:05:00", "2026-03-07 08:05:00"]


@fault("T5", "Q", "years ahead or long ago")
def years(bench):
    loaded = cases_of(bench, "induction_at", {"C05": "2052-03-05 08:05", "C06": "1925-03-06 08:05"})
    assert [row[0] for row in loaded.quarantined() if row[1] == "induction_at"] == ["C05", "C06"]


@fault("T6", "A", "clocks alone, with and without a mark")
def clocks(bench):
    rows = "Case;Day;Start;Tube;End\nC05;05.03.2026;08:15;0820;915\nC06;06.03.2026;30;40;1:30\n"
    loaded = bench.load({"log.csv": rows}, CLOCKS)
    assert [str(loaded.cell(name, "C05")) for name in ("induction_at", "intubation_at", "extubation_at")] == [
        "2026-03-05 08:15:00", "2026-03-05 08:20:00", "2026-03-05 09:15:00"]  # fmt: skip
    assert str(loaded.cell("induction_at", "C06")) == "2026-03-06 00:30:00"
    bare = MONITOR.replace('"Day" = "day"\n', "")
    bench.month.case("C05")["induction_at"] = "2026-03-05 22:04:00"
    files = bench.without("vitals.csv") | {"monitor.csv": "Case;Clock;HR\nC05;22:15;92\nC05;0:10;93\n"}
    loaded = bench.load(files, bare)
    told = [str(at) for (at,) in loaded.ask("SELECT taken_at FROM vitals ORDER BY ALL")]
    assert told == ["2026-03-05 22:15:00", "2026-03-06 00:10:00"]


@fault("T7", "N", "past midnight on the date of the start")
def midnight(bench):
    start = datetime(2026, 3, 5, 22, 4)
    spoiled = {
        name: "2026-03-05 00:" + clock for name, clock in (("vaporizer_off_at", "10:00"), ("extubation_at", "19:00"))
    }
    bench.month.case("C05").update(
        {"induction_at": stamp(start), "intubation_at": stamp(start + timedelta(minutes=4)), **spoiled}
    )
    loaded = bench.load(bench.without(*ALONE))
    assert str(loaded.cell("extubation_at", "C05")) == "2026-03-06 00:19:00"
    assert loaded.cell("extubation_at_s", "C05") - loaded.cell("induction_at_s", "C05") == (2 * 60 + 15) * 60
    assert loaded.notes("N")["past_midnight"] == 2
    lines = ["Case;Day;Clock;HR", *(f"C05;5.3.2026;{clock};92" for clock in ("22:10", "23:55", "00:05", "00:15"))]
    loaded = bench.load({"cases.csv": text_of(bench.month.cases), "monitor.csv": "\n".join(lines) + "\n"}, MONITOR)
    told = [str(at) for (at,) in loaded.ask("SELECT taken_at FROM vitals ORDER BY ALL")]
    assert told[0] == "2026-03-05 22:10:00" and told[-1] == "2026-03-06 00:15:00"
    assert loaded.notes("N")["past_midnight"] == 2 + 2  # two stages, two readings
    bench.month.case("C05").update(induction_at="2026-03-05 04:00:00", intubation_at="2026-03-05 04:04:00",
                                   vaporizer_off_at="2026-03-05 03:00:00", extubation_at="")  # fmt: skip
    loaded = bench.load(bench.without(*ALONE))
    assert str(loaded.cell("vaporizer_off_at", "C05")) == "2026-03-05 03:00:00"  # rolled it would be 23 hours


@fault("T8", "W", "twelve-hour clock without am and pm")
def twelve(bench):
    rows = "Case;Day;Start;Tube;End\nC05;5.3.2026;11:40;11:50;7:30\n"
    loaded = bench.load({"log.csv": rows}, CLOCKS)
    assert str(loaded.cell("extubation_at", "C05")) == "2026-03-05 07:30:00"
    loaded = bench.load({"log.csv": rows}, CLOCKS.replace('table = "cases"', 'table = "cases"\nclock = 12'))
    assert str(loaded.cell("extubation_at", "C05")) == "2026-03-05 19:30:00"
    assert loaded.notes("N")["past_midnight"] == 1


@fault("T9", "W", "an hour the spring clock change skips")
def spring(bench):
    loaded = cases_of(bench, "induction_at", {"C05": "2026-03-29 02:30:00"})
    assert [(column, value[:19]) for column, value, _ in loaded.flagged()] == [("induction_at", "2026-03-29 02:30:00")]


@fault("T10", "N", "an hour the autumn clock change repeats, told by the order in the case")
def autumn(bench):
    readings = [("02:50:00", "92"), ("02:10:00", "93"), ("02:55:00", "94")]
    rows = [
        {"case_id": "C05", "taken_at": f"2025-10-26 {clock}", "parameter": "heart_rate", "value": value}
        for clock, value in readings
    ]
    loaded = bench.load(bench.without("vitals.csv") | {"vitals.csv": text_of(rows)})
    seconds = [at for (at,) in loaded.ask("SELECT taken_at_s FROM vitals ORDER BY source_row")]
    assert [later - seconds[0] for later in seconds] == [0, 20 * 60, 65 * 60]
    assert loaded.notes("N")["time_put_second"] == 2


@fault("T11", "A", "times with an offset among local ones")
def offsets(bench):
    loaded = cases_of(bench, "induction_at", {"C05": "2026-03-05T07:05:00Z"})
    assert str(loaded.cell("induction_at", "C05")) == "2026-03-05 08:05:00"
    assert loaded.notes("A")["time_with_zone"] == 1


@fault("T12", "W", "monitor clock against record clock")
def monitor(bench):
    assert not any("clock" in said for said in bench.load().receipt.warnings)
    for row in bench.month.vitals:
        row["taken_at"] = stamp(datetime.fromisoformat(row["taken_at"]) - timedelta(minutes=8))
    loaded = bench.load()
    assert any("Machine M1" in said and "7 min" in said for said in loaded.receipt.warnings)
    assert loaded.ask("SELECT min(taken_at) FROM vitals WHERE case_id = 'C05'") == [(datetime(2026, 3, 5, 8, 2),)]
    shifted = MONITOR.replace('table = "vitals"', 'table = "vitals"\nshift_minutes = 8')
    files = bench.without("vitals.csv") | {"monitor.csv": "Case;Day;Clock;HR\nC05;5.3.2026;08:02;92\n"}
    loaded = bench.load(files, shifted)
    assert loaded.ask("SELECT taken_at FROM vitals") == [(datetime(2026, 3, 5, 8, 10),)]


@fault(
    "T13",
    "W",
    "stages out of order",
    "check cases_extubation_after_intubation; durations unknown: model recovery_stages",
)
def out_of_order(bench):
    loaded = cases_of(bench, "extubation_at", {"C05": "2026-03-05 08:06:00"})
    assert str(loaded.cell("extubation_at", "C05")) == "2026-03-05 08:06:00"


@fault("T14", "A", "no extubation time", "the case stays in its counts: model case_windows")
def no_extubation(bench):
    loaded = cases_of(bench, "extubation_at", {"C05": ""})
    assert loaded.cell("extubation_at", "C05") is None
    assert loaded.account("cases.csv").new == 30


@fault("T15", "W", "midnight as a placeholder", "shares of rounded times: check cases_times_exact")
def placeholder(bench):
    loaded = cases_of(bench, "extubation_at", {"C05": "2026-03-05 00:00:00", "C06": "2026-03-06"})
    assert [loaded.cell("extubation_at", case) for case in ("C05", "C06")] == [None, None]
    assert loaded.notes("W") == {"midnight_placeholder": 1, "date_without_time": 1}


@fault("T16", "W", "length of nothing, or of a day", "check cases_length_above_zero, check cases_length_plausible")
def lengths(bench):
    loaded = cases_of(bench, "extubation_at", {"C05": "2026-03-05 08:05:00", "C06": "2026-03-07 08:05:00"})
    assert str(loaded.cell("extubation_at", "C06")) == "2026-03-07 08:05:00"


@fault("T17", "N / W", "readings twice; holes between them", "holes are unobserved time: model parameter_holds")
def doubles(bench):
    bench.month.vitals.append(dict(bench.month.reading("C05", "heart_rate", 2)))
    bench.month.vitals.append(bench.month.reading("C06", "heart_rate", 2) | {"value": "140"})
    loaded = bench.load()
    account = loaded.account("vitals.csv")
    assert (account.new, account.unchanged, account.quarantined) == (2099, 1, 2)
    bench.others_unchanged(loaded, "C06")
