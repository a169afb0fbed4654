"""The cumulative sum against numbers printed elsewhere. Change one only to fix a misprint of ours."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.training.learning_curve import attempts, lines, walk
from pipeline.training.programme import Curve

# NIST/SEMATECH e-Handbook of Statistical Methods, section 6.2.6, "What is a sequential sampling plan?":
# p1 = .01, p2 = .10, alpha = .05, beta = .10. Printed: h1 = .9389, h2 = 1.2054, s = .0397 (these three from
# memory); the table of numbers of failures to accept and to reject, read in the documentation of the Python
# package `reliability` ("Sequential sampling chart"), which reproduces the handbook's example.
# (attempts from, to, most failures at which the lower line is reached or None, fewest at which the upper is or None)
NIST_TABLE = [
    (1, 1, None, None),
    (2, 19, None, 2),
    (20, 23, None, 3),
    (24, 45, 0, 3),
    (46, 48, 0, 4),
    (49, 70, 1, 4),
    (71, 73, 1, 5),
    (74, 95, 2, 5),
    (96, 99, 2, 6),
    (100, 100, 3, 6),
]
NIST = lines(0.01, 0.10, alpha=0.05, beta=0.10)


def test_lines_of_the_handbook():
    assert NIST.step == pytest.approx(0.0397, abs=0.00005)
    assert NIST.lower == pytest.approx(-0.9389, abs=0.00005)
    assert NIST.upper == pytest.approx(1.2054, abs=0.00005)


@pytest.mark.parametrize("first, last, accept, reject", NIST_TABLE)
def test_table_of_the_handbook(first, last, accept, reject):
    for n in range(first, last + 1):
        totals = [failures - n * NIST.step for failures in range(n + 1)]  # the sum after n attempts, not restarted
        reaches_lower = [failures for failures, total in enumerate(totals) if total <= NIST.lower]
        reaches_upper = [failures for failures, total in enumerate(totals) if total >= NIST.upper]
        assert max(reaches_lower, default=None) == accept
        assert min(reaches_upper, default=None) == reject


def test_the_documented_run_ends_at_its_third_failure():
    """The sequence of the same documentation page: failures at 14, 32 and 38, where the plan rejects."""
    failures = [n in (14, 32, 38) for n in range(1, 39)]
    points = walk(failures, NIST)
    assert [number for number, point in enumerate(points, 1) if point.crossed] == [38]
    assert points[-1].crossed == "upper"


def test_equal_risks_give_lines_at_equal_distance():
    """Kestin 1995 (Br J Anaesth 75:805-809) and later papers draw one distance up and down for alpha = beta."""
    at = lines(0.2, 0.4)
    assert at.upper == pytest.approx(-at.lower)


@given(st.floats(0.01, 0.45), st.floats(1.2, 2.0))
def test_the_step_lies_between_the_two_shares(acceptable, times):
    """Wald 1947: at the acceptable share the sum drifts down, at the unacceptable one up."""
    at = lines(acceptable, acceptable * times)
    assert acceptable < at.step < acceptable * times


@given(st.lists(st.booleans(), max_size=80))
def test_the_sum_is_failures_less_what_was_expected_since_the_last_restart(failures):
    at, since = lines(0.1, 0.3), 0
    for number, point in enumerate(walk(failures, at), 1):
        run = failures[since:number]
        assert point.total == pytest.approx(sum(run) - len(run) * at.step)
        assert (point.crossed == "lower") == (point.total <= at.lower)
        assert (point.crossed == "upper") == (point.total >= at.upper)
        since = number if point.crossed else since


def test_chance_of_each_line_is_near_the_one_asked_for():
    """Wald 1947: the chances of error are at most alpha/(1-beta) and beta/(1-alpha). By exact recursion, no random."""
    acceptable, unacceptable, alpha, beta = 0.1, 0.3, 0.1, 0.1
    at = lines(acceptable, unacceptable, alpha, beta)
    wrong = {}
    for share in (acceptable, unacceptable):
        open_sums, crossed = {(0, 0): 1.0}, {"lower": 0.0, "upper": 0.0}
        for _ in range(400):
            after = {}
            for (n, failures), chance in open_sums.items():
                for more, p in ((1, share), (0, 1 - share)):
                    total = failures + more - (n + 1) * at.step
                    line = "lower" if total <= at.lower else "upper" if total >= at.upper else None
                    if line:
                        crossed[line] += chance * p
                    else:
                        key = (n + 1, failures + more)
                        after[key] = after.get(key, 0.0) + chance * p
            open_sums = after
        assert math.isclose(sum(crossed.values()), 1, abs_tol=1e-6)
        wrong[share] = crossed
    assert wrong[acceptable]["upper"] <= alpha / (1 - beta)
    assert wrong[unacceptable]["lower"] <= beta / (1 - alpha)


def test_shares_the_wrong_way_round_are_a_fault_in_the_caller():
    with pytest.raises(ValueError, match="0.3 and 0.1"):
        lines(0.3, 0.1)


def test_a_case_is_one_attempt_and_fails_by_what_the_programme_says():
    curve = Curve(
        name="Lines", trainees=("ash",), criteria={"technique": ("arterial_line",)}, failure_events=("hemorrhage",),
        failure_techniques=("arterial_line_failed",), acceptable=0.1, unacceptable=0.3, source="invented",
    )  # fmt: skip

    def row(case, role, *techniques):
        return {"case_id": case, "start_day": date(2026, 3, 1), "role": role, "technique": frozenset(techniques)}

    rows = [
        row("C1", "primary", "arterial_line"),
        row("C1", "assisting", "arterial_line"),
        row("C2", "observing", "arterial_line"),
        row("C3", "primary", "arterial_line", "arterial_line_failed"),
        row("C4", "primary", "arterial_line"),
        row("C5", "primary", "epidural"),
    ]
    events = {"C4": {"hemorrhage"}, "C1": {"hypotension"}}
    found = attempts(curve, ("primary", "assisting"), rows, events)
    assert [(case, failed) for case, _, failed in found] == [("C1", False), ("C3", True), ("C4", True)]
