"""Local wall time to UTC: the zone rules of the IANA database through Python's zoneinfo, and the two nights a year."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from clinic_folder import CASES, counts
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake import zones

EPOCH = datetime(1970, 1, 1)
ZONES = ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata", "America/Sao_Paulo", "UTC"]


def seconds(local: datetime) -> int:
    return int((local - EPOCH).total_seconds())


@settings(max_examples=400, deadline=None)
@given(
    local=st.datetimes(datetime(1991, 1, 1), datetime(2037, 12, 31)).map(lambda t: t.replace(microsecond=0)),
    zone=st.sampled_from(ZONES),
)
def test_utc_as_zoneinfo_has_it(local, zone):
    expected = int(local.replace(tzinfo=ZoneInfo(zone), fold=0).timestamp())
    assert zones.to_utc(np.array([seconds(local)]), zone).tolist() == [expected]
    back = datetime.fromtimestamp(expected, UTC).astimezone(ZoneInfo(zone)).replace(tzinfo=None)
    assert zones.to_local(np.array([expected]), zone).tolist() == [seconds(back)]


@settings(max_examples=300, deadline=None)
@given(minute=st.integers(-200, 200), zone=st.sampled_from(ZONES), change=st.integers(0, 60))
def test_doubtful_times_are_those_zoneinfo_doubts(minute, zone, change):
    place = ZoneInfo(zone)
    found = [one for one in zones.changes(zone)[1] if 662_688_000 < one.at < 2_145_916_800] or [
        zones.Change(10**9, 0, 0)
    ]
    local = datetime(1970, 1, 1) + timedelta(seconds=found[change % len(found)].at, minutes=minute + 60)
    first, second = (local.replace(tzinfo=place, fold=fold) for fold in (0, 1))
    exists = first.astimezone(UTC).astimezone(place).replace(tzinfo=None) == local
    twice = exists and first.utcoffset() != second.utcoffset()
    hit, never = zones.doubtful(np.array([seconds(local)]), zone)
    assert (len(hit) == 1, len(never) == 1) == (twice, not exists)
    if twice:
        length = zones.repeat_length(np.array([seconds(local)]), zone)[0]
        assert first.timestamp() + length == second.timestamp()


def vitals(clinic, *lines):
    text = "case_id,taken_at,parameter,value\n" + "".join(
        f"A1,2025-10-26 {line},heart_rate,{n + 60}\n" for n, line in enumerate(lines)
    )
    account = clinic.load_text("vitals.csv", text)
    return account, [row[0] for row in clinic.ask("SELECT taken_at_s FROM vitals ORDER BY source_row")]


# Central European Summer Time ended on 26 October 2025 at 01:00 UTC (Directive 2000/84/EC: last Sunday of October).
ENDED = int(datetime(2025, 10, 26, 1, tzinfo=UTC).timestamp())


def test_the_hour_that_stands_twice_is_told_by_the_order_of_the_rows(clinic_with_cases):
    account, utc = vitals(clinic_with_cases, "01:55", "02:30", "02:50", "02:10", "02:40", "03:05")
    assert [(one - ENDED) // 60 for one in utc] == [-65, -30, -10, 10, 40, 65]
    assert counts(account) == (6, 6, 0, 0, 0, 0)
    assert [(note.rule, note.kind, note.count) for note in account.notes] == [("time_put_second", "N", 2)]
    assert clinic_with_cases.ask("SELECT count(*) FROM flagged_cells") == [(0,)]


def test_a_repeated_time_is_no_repeated_key(clinic_with_cases):
    account, utc = vitals(clinic_with_cases, "02:00", "02:30", "02:00", "02:30")
    assert counts(account) == (4, 4, 0, 0, 0, 0)
    assert [(one - ENDED) // 60 for one in utc] == [-60, -30, 0, 30]


def test_without_a_step_back_the_first_hour_is_taken_and_flagged(clinic_with_cases):
    account, utc = vitals(clinic_with_cases, "02:10", "02:40")
    assert [(one - ENDED) // 60 for one in utc] == [-50, -20]
    assert [(note.rule, note.kind, note.count) for note in account.notes] == [("time_stands_twice", "W", 2)]
    assert clinic_with_cases.ask('SELECT "row", case_id, column_name, reason FROM flagged_cells ORDER BY 1') == [
        (2, "A1", "taken_at", "taken_at holds '2025-10-26 02:10:00', a time that the autumn clock change repeats"),
        (3, "A1", "taken_at", "taken_at holds '2025-10-26 02:40:00', a time that the autumn clock change repeats"),
    ]


def test_the_steps_of_one_case_are_in_order(clinic):
    account = clinic.load_text(
        "cases.csv",
        "case_id,induction_at,procedure_end_at,extubation_at\nA1,2025-10-26 01:30,2025-10-26 02:50,2025-10-26 02:10\n",
    )
    induction, end, extubation = clinic.ask("SELECT induction_at_s, procedure_end_at_s, extubation_at_s FROM cases")[0]
    assert [(one - ENDED) // 60 for one in (induction, end, extubation)] == [-90, -10, 10]
    assert [note.rule for note in account.notes] == ["time_put_second"]


def test_rows_without_a_case_are_in_order_for_each_item(clinic):
    lines = [("p", "02:50"), ("q", "02:40"), ("p", "02:10")]
    clinic.load_text(
        "stock.csv",
        "item,at,movement,quantity\n" + "".join(f"{item},2025-10-26 {at},opened,1\n" for item, at in lines),
    )
    found = clinic.ask("SELECT item, (at_s - ?) // 60 FROM stock ORDER BY source_row", ENDED)
    assert found == [("p", -10), ("q", -20), ("p", 10)]
    assert clinic.ask('SELECT "row", rule FROM flagged_cells') == [(3, "time_stands_twice")]


def test_wide_vitals_in_the_repeated_hour(clinic_with_cases):
    text = "case_id,taken_at,heart_rate,spo2\nA1,2025-10-26 02:50,100,98\nA1,2025-10-26 02:10,101,97\n"
    clinic_with_cases.load_text("vitals.csv", text)
    assert clinic_with_cases.ask("SELECT DISTINCT (taken_at_s - ?) // 60 FROM vitals ORDER BY 1", ENDED) == [
        (-10,),
        (10,),
    ]


def test_a_time_that_does_not_exist_is_shifted_and_flagged(clinic_with_cases):
    text = "case_id,taken_at,parameter,value\nA1,2025-03-30 02:30,heart_rate,90\n"
    account = clinic_with_cases.load_text("vitals.csv", text)
    local, utc = clinic_with_cases.ask("SELECT taken_at, taken_at_s FROM vitals")[0]
    assert local == datetime(2025, 3, 30, 2, 30)
    assert datetime.fromtimestamp(utc, ZoneInfo("Europe/Berlin")).strftime("%H:%M") == "03:30"
    assert [note.sentence for note in account.notes] == [
        "taken_at: a time that the spring clock change skips - moved one hour on."
    ]


@pytest.mark.parametrize(
    ("cell", "utc"),
    [
        ("2025-03-06 08:15", "2025-03-06 07:15"),
        ("2025-03-06T08:15:30", "2025-03-06 07:15:30"),
        ("2025-03-06 08:15:30.999", "2025-03-06 07:15:30"),
        ("2025-03-06T08:15Z", "2025-03-06 08:15"),
        ("2025-03-06T08:15:00+02:00", "2025-03-06 06:15"),
        ("2025-03-06 08:15 -0330", "2025-03-06 11:45"),
        ("2025-07-06 08:15", "2025-07-06 06:15"),
        ("6.3.2025 8:15", "2025-03-06 07:15"),
        ("2025/03/06 08:15", "2025-03-06 07:15"),
    ],
)
def test_times_as_charted_and_in_utc(clinic, cell, utc):
    clinic.load_text("cases.csv", f"case_id,induction_at\nA1,{cell}\n")
    expected = datetime.fromisoformat(utc).replace(tzinfo=UTC)
    assert clinic.ask("SELECT induction_at_s FROM cases") == [(int(expected.timestamp()),)]
    local = expected.astimezone(ZoneInfo("Europe/Berlin"))
    assert clinic.ask("SELECT date_trunc('second', induction_at) FROM cases") == [(local.replace(tzinfo=None),)]


@pytest.mark.parametrize("cell", ["2052-01-01 08:00", "1925-01-01 08:00"])
def test_a_time_out_of_all_reason_is_quarantined(clinic, cell):
    account = clinic.load_text("cases.csv", CASES.replace("2025-03-06 08:15", cell))
    assert counts(account) == (2, 1, 0, 0, 1, 0)
    assert clinic.ask("SELECT column_name, rule FROM quarantine") == [("induction_at", "time_out_of_range")]


def test_a_date_alone_is_no_time_of_a_step_but_enough_for_an_outcome(clinic):
    account = clinic.load_text(
        "cases.csv", "case_id,induction_at,extubation_at,outcome_at\nA1,2025-03-06 08:00,2025-03-06,2025-03-08\n"
    )
    assert counts(account) == (1, 1, 0, 0, 0, 0)
    assert clinic.ask("SELECT extubation_at, outcome_at FROM cases") == [(None, datetime(2025, 3, 8))]
    assert [(note.column, note.kind) for note in account.notes] == [("extubation_at", "W"), ("outcome_at", "A")]


def test_day_or_month_first_is_told_by_a_day_over_twelve(clinic):
    text = "case_id,induction_at,extubation_at\nA1,06/03/2025 08:15,06/03/2025 09:15\nA2,03/25/2025 08:15,\n"
    clinic.load_text("cases.csv", text)
    assert clinic.ask("SELECT induction_at FROM cases ORDER BY case_id")[0] == (datetime(2025, 6, 3, 8, 15),)
