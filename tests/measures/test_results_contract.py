"""The table `results`: what n, numerator, denominator and the rest hold for each kind, and which rows stand."""

import math

import pytest

HEAD = "case_id | species | asa_class | agent | induction_at | extubation_at | standing_at\n"

# Four months: two cases in January 2026, none in February, one in March, one in April that makes March complete.
FOUR_MONTHS = (
    HEAD
    + """C1 | dog | 1 | isoflurane | 2026-01-10 08:00 | 2026-01-10 09:00 | 2026-01-10 09:30
C2 | cat | 3 | isoflurane | 2026-01-31 23:50 | 2026-02-01 01:00 | 2026-02-01 01:40
C3 | dog |   | sevoflurane | 2026-03-05 08:00 | 2026-03-05 09:00 | 2026-03-05 09:30
C4 | rabbit | 2 | isoflurane | 2026-04-01 08:00 | 2026-04-01 09:00 | 2026-04-01 09:30"""
)


def one(record, measure, period="all", by="all", level="all"):
    return record.row("results", measure=measure, period=period, by=by, level=level)


@pytest.fixture
def year(clinic, tables):
    record = clinic(
        cases=FOUR_MONTHS,
        vitals=tables.vitals(
            *(f"C1 | 2026-01-10 08:{minute:02d} | etco2 | 50" for minute in range(0, 60, 5)),
            *(f"C3 | 2026-03-05 08:{minute:02d} | etco2 | 40" for minute in range(0, 60, 5)),
        ),
        events="case_id | event\nC2 | apnea",
    )
    record.month = record.results()
    return record


def test_the_report_month_is_the_last_complete_one(year):
    assert year.month == "2026-03"


def test_periods_are_the_months_between_first_and_last_case_twelve_months_and_all(year):
    periods = {row["period"] for row in year.rows("results", measure="hypoventilation", by="all")}
    assert periods == {"2026-01", "2026-02", "2026-03", "2026-04", "2025-04..2026-03", "all"}


def test_a_month_without_a_case_stands_for_all_with_nothing_judged(year):
    row = one(year, "hypoventilation", "2026-02")
    assert (row["n"], row["numerator"], row["denominator"], row["value"], row["low"]) == (0, 0, 0, None, None)
    assert year.rows("results", measure="hypoventilation", period="2026-02", by="species") == []


def test_the_last_month_is_partial_and_says_so(year):
    assert one(year, "hypoventilation", "2026-04")["method"].endswith("; partial")
    assert not one(year, "hypoventilation", "2026-03")["method"].endswith("; partial")


def test_share(year):
    row = one(year, "hypoventilation")
    assert (row["n"], row["numerator"], row["denominator"], row["value"]) == (4, 1, 2, 0.5)
    assert row["not_assessable"] == 2
    # Newcombe 1998, method 3, for 1 of 2: (1 + z^2/2 -+ z sqrt(1/2 + z^2/4)) / (2 + z^2) with z = 1.959964.
    z = 1.959963984540054
    half = z * math.sqrt(0.5 + z * z / 4)
    assert row["low"] == pytest.approx((1 + z * z / 2 - half) / (2 + z * z), abs=1e-9)


def test_wilson_ends_exactly_at_0_and_1(year):
    assert one(year, "hypoxemia")["low"] is None
    assert one(year, "complication", "2026-03")["low"] == 0
    row = one(year, "hypoventilation", "2026-01", "species", "dog")
    assert (row["value"], row["high"]) == (1, 1)


def test_median_counts_assessable_cases_with_zeros_in(year):
    row = one(year, "hypoventilation_minutes")
    assert (row["denominator"], row["numerator"], row["value"]) == (2, None, 30)
    assert one(year, "hypoventilation_minutes_q1")["value"] == 15


def test_ratio_of_sums_has_no_interval(year):
    row = one(year, "hypoventilation_time_share")
    assert (row["numerator"], row["denominator"], row["value"], row["low"]) == (60, 120, 0.5, None)
    assert row["not_assessable"] == 2


def test_time_to_event_counts_stages_seen_and_cases_entered(year):
    assert one(year, "to_standing")["denominator"] == 0  # nobody's vaporizer was charted off
    assert one(year, "to_standing")["value"] is None


def test_month_is_local_and_goes_by_start(year):
    assert one(year, "cases", "2026-01")["value"] == 2


def test_groups_and_unknown(year):
    levels = {
        row["level"]: row["n"] for row in year.rows("results", measure="complication", period="all", by="asa_class")
    }
    assert levels == {"1": 1, "2": 1, "3": 1, "not recorded": 1}
    both = {
        row["level"] for row in year.rows("results", measure="complication", period="all", by="asa_class x species")
    }
    assert both == {"1 x dog", "3 x cat", "not recorded x dog", "2 x rabbit"}


def test_trend_leaves_unknown_classes_out_and_counts_them(year):
    row = one(year, "complication_asa_trend")
    assert (row["n"], row["not_assessable"], row["denominator"]) == (4, 1, None)
    assert year.rows("results", measure="complication_asa_trend", by="asa_class") == []
    assert one(year, "death_48h_asa_trend")["value"] is None  # no events


DOSES = """case_id | drug | kind | given_at | amount | amount_unit
C1 | ketamine | bolus | 2026-01-10 08:00 | 50 | mg
C1 | ketamine | bolus | 2026-01-10 08:30 | 5 | mg/kg
C3 | morphine | bolus | 2026-03-05 08:00 | 1 | mg/kg"""

LEAKS = """machine_id | at | item | action | value | unit
M1 | 2026-01-10 07:00 | absorbent | leak_tested | 300 | mL/min
M1 | 2026-01-11 07:00 | absorbent | leak_tested | 301 | mL/min
M1 | 2026-01-12 07:00 | absorbent | leak_tested | 3 |
M1 | 2025-11-12 07:00 | absorbent | leak_tested | 3 | mL/min"""


def test_totals(clinic):
    record = clinic(cases=FOUR_MONTHS, drugs=DOSES, equipment=LEAKS)
    record.results()
    known = one(record, "drug_mg", by="drug", level="ketamine")
    assert (known["n"], known["value"], known["not_assessable"], known["denominator"]) == (2, 50, 1, None)
    unknown = one(record, "drug_mg", by="drug", level="morphine")
    assert (unknown["n"], unknown["value"], unknown["numerator"], unknown["not_assessable"]) == (1, None, None, 1)
    assert record.rows("results", measure="drug_mg", by="all") == []
    # Coleman 2016: up to 300 mL/min at the test pressure passes, so 301 fails; a test without unit is not judged.
    january = one(record, "leak_test_failed", "2026-01", "machine_id", "M1")
    assert (january["n"], january["numerator"], january["denominator"]) == (3, 1, 2)
    assert one(record, "leak_test_failed")["n"] == 4  # November stands only in all
    assert one(record, "leak_test_failed", "2026-02")["n"] == 0
    assert one(record, "oxygen_l", "2026-02")["value"] == 0
    assert one(record, "oxygen_l", "2026-03")["value"] is None


def test_hours_since_the_change_are_clipped_at_the_periods_end(clinic):
    record = clinic(
        cases="case_id | machine_id | breathing_system | induction_at | extubation_at\n"
        "C1 | M1 | rebreathing | 2026-01-10 08:00 | 2026-01-10 10:00\n"
        "C2 | M1 | rebreathing | 2026-01-31 23:00 | 2026-02-01 01:00\n"
        "C3 | M1 | rebreathing | 2026-02-10 08:00 | 2026-02-10 09:00",
        equipment="machine_id | at | item | action\nM1 | 2026-01-01 08:00 | absorbent | changed",
    )
    record.results()
    hours = [one(record, "absorbent_hours_since_change", period, "machine_id", "M1")["value"]
             for period in ("2026-01", "2026-02", "all")]  # fmt: skip
    assert hours == [3, 5, 5]
    whole = [one(record, "absorbent_hours", period, "machine_id", "M1")["value"] for period in ("2026-01", "2026-02")]
    assert whole == [4, 1]


def test_a_month_with_more_than_a_twentieth_of_its_cases_quarantined_is_not_complete(clinic):
    record = clinic(cases=FOUR_MONTHS)
    record.db.execute("INSERT INTO quarantine VALUES ('cases', 2026 * 12 + 2, NULL)")
    assert record.results() == "2026-02"
    assert one(record, "complication", "2026-03")["method"].endswith("; partial")


def test_the_report_month_can_be_given_and_must_exist(clinic):
    from pipeline.errors import SettingsFault

    record = clinic(cases=FOUR_MONTHS)
    assert record.results("2026-01") == "2026-01"
    assert record.rows("results", measure="cases", by="all", period="2025-02..2026-01")[0]["value"] == 2
    with pytest.raises(SettingsFault, match="2026-01 to 2026-04"):
        record.results("2027-01")


def test_an_empty_record_has_no_month_and_no_rows(clinic):
    record = clinic()
    assert record.results() is None
    assert record.rows("results") == []
