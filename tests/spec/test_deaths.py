"""Who counts as dead within 48 hours, who as survivor, who cannot be judged. One rule a test."""

import pytest

HEAD = "case_id | species | induction_at | extubation_at | outcome | outcome_at | followed_until"
# A case days later, so that C1 is not too recent; it ends the record.
LATER = "C9 | dog | +9 8:00 | +9 9:00 | alive | | "


def fate(clinic, line, events="", settings=None, later=LATER):
    tables = {"cases": "\n".join([HEAD, line, later])}
    if events:
        tables["events"] = "case_id | event | occurred_at\n" + events
    record = clinic(settings=settings, **tables)
    row = record.row("case_deaths", case_id="C1")
    shares = {
        name: record.row("case_shares", case_id="C1", measure=name)["has"] for name in ("death_48h", "euthanasia_48h")
    }
    return row["fate"], shares["death_48h"], shares["euthanasia_48h"]


@pytest.mark.parametrize(
    "outcome, expected",
    [
        ("died | 8:30 | ", ("died", 1, 0)),
        ("died | +2 9:00 | ", ("died", 1, 0)),  # 48 h after the end, inclusive
        ("died | +2 9:01 | ", ("survived", 0, 0)),
        ("died | | ", ("died", 1, 0)),  # time not recorded counts
        ("died | 7:59 | ", ("before_start", None, 0)),
        ("euthanised | +1 8:00 | ", ("euthanised", None, 1)),
        ("euthanised | | ", ("euthanised", None, 1)),
        ("euthanised | +5 8:00 | ", ("survived", 0, 0)),
        ("alive | | +2 9:00", ("survived", 0, 0)),
        ("alive | +3 9:00 | ", ("survived", 0, 0)),
        (" | | ", ("assumed_alive", 0, 0)),
    ],
)
def test_outcomes(clinic, outcome, expected):
    assert fate(clinic, f"C1 | dog | 8:00 | 9:00 | {outcome}") == expected


def test_a_death_event_counts_without_an_outcome(clinic):
    assert fate(clinic, "C1 | dog | 8:00 | 9:00 | alive | | ", "C1 | death | 8:40") == ("died", 1, 0)


def test_outcome_time_stands_before_the_events(clinic):
    found = fate(clinic, "C1 | dog | 8:00 | 9:00 | died | +5 8:00 | ", "C1 | death | 8:40")
    assert found == ("survived", 0, 0)


def test_outcome_at_is_a_time_of_death_only_with_outcome_died(clinic):
    assert fate(clinic, "C1 | dog | 8:00 | 9:00 | alive | +6 8:00 | ", "C1 | death | ") == ("died", 1, 0)


def test_euthanised_overrides_a_death_event(clinic):
    assert fate(clinic, "C1 | dog | 8:00 | 9:00 | euthanised | 8:50 | ", "C1 | death | 8:50") == ("euthanised", None, 1)


def test_nobody_is_assumed_alive_where_the_clinic_says_so(clinic):
    found = fate(clinic, "C1 | dog | 8:00 | 9:00 | | | ", settings={"deaths": {"assume_alive": False}})
    assert found == ("lost", None, 0)


def test_a_case_that_began_less_than_48_hours_before_the_record_ends_is_too_recent(clinic):
    line = "C1 | dog | 8:00 | 9:00 | alive | | "
    assert fate(clinic, line, later="C9 | dog | +2 7:00 | +2 7:59 | alive | | ")[0] == "too_recent"
    assert fate(clinic, line, later="C9 | dog | +2 7:00 | +2 8:00 | alive | | ")[0] == "assumed_alive"


def test_a_known_death_counts_at_once(clinic):
    found = fate(clinic, "C1 | dog | 8:00 | 9:00 | died | 8:30 | ", later="C9 | dog | 9:00 | 10:00 | alive | | ")
    assert found == ("died", 1, 0)


def test_without_an_end_death_cannot_be_judged_and_euthanasia_with_a_time_stays_in_the_denominator(clinic):
    assert fate(clinic, "C1 | dog | 8:00 | | euthanised | 8:30 | ") == ("no_end", None, 0)
    assert fate(clinic, "C1 | dog | 8:00 | | euthanised | | ") == ("no_end", None, 1)


def test_the_record_ends_with_the_latest_time_of_any_row_but_not_with_an_expiry_date(clinic):
    record = clinic(
        cases="case_id | induction_at | followed_until\nC1 | 8:00 | +3 8:00",
        stock="item | at | movement | expires_on\nx | +1 8:00 | counted | 2030-01-01",
    )
    assert record.row("record_end")["as_of_s"] == record.row("stg_cases")["followed_s"]
