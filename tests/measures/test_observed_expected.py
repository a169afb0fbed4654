"""Observed against expected in `results`: each month against the complete months before it."""

import pytest


def clinic_of(clinic, months: int, events_in_last: int):
    """Every month 25 dogs of ASA 2, of which 5 have apnea; in the month judged last some other number."""
    cases, events = ["case_id | species | asa_class | emergency | induction_at | extubation_at"], ["case_id | event"]
    for month in range(months + 1):
        at = f"{2025 + month // 12}-{month % 12 + 1:02d}"
        for number in range(25):
            case = f"C{month}-{number}"
            cases.append(f"{case} | dog | 2 | no | {at}-10 08:00 | {at}-10 09:00")
            if number < (events_in_last if month == months - 1 else 5):
                events.append(f"{case} | apnea")
    record = clinic(cases="\n".join(cases), events="\n".join(events))
    record.results()
    return record


def test_one_stratum_equals_the_plain_rate(clinic):
    record = clinic_of(clinic, months=13, events_in_last=10)
    row = record.row("results", measure="complication_observed_expected", by="all", period="2026-01")
    assert (row["n"], row["numerator"], row["denominator"], row["value"]) == (25, 10, 5, 2)
    # Garwood 1936, exact Poisson limits of a count of 10: 4.795 and 18.39 (from memory, and scipy's chi2 agrees).
    assert (row["low"] * 5, row["high"] * 5) == (pytest.approx(4.795, abs=5e-4), pytest.approx(18.39, abs=5e-3))


def test_with_fewer_than_twelve_complete_months_before_it_nothing_is_expected(clinic):
    record = clinic_of(clinic, months=12, events_in_last=10)
    assert record.rows("results", measure="complication_observed_expected") == []
