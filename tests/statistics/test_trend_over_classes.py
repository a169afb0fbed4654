"""Cochran-Armitage against printed examples, R and rules that hold for any counts."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from statsmodels.stats.contingency_tables import Table

from pipeline.statistics.trend import cochran_armitage

# events, totals, scores, chi-square, p: all from R 4.2.2 prop.trend.test
FROM_R = [
    # Agresti 2007, section 2.5, Table 2.7 (alcohol and malformation)
    ([48, 38, 5, 1, 1], [17114, 14502, 793, 127, 38], [0, 0.5, 1.5, 4, 7], 6.57013394471, 0.010370414573),
    # Fleiss 1981, p. 139 (smokers in four studies), also the example of R's help page
    ([83, 90, 129, 70], [86, 93, 136, 82], [1, 2, 3, 4], 8.2249222852, 0.00413189747764),
    # SAS/STAT documentation, PROC FREQ, "Cochran-Armitage trend test" (pain by dose); its Z is 4.7918
    ([6, 7, 9, 14, 23], [32, 33, 32, 32, 32], [0, 1, 2, 3, 4], 4.79181257604**2, 1.65281268876e-06),
]

classes = st.lists(
    st.integers(0, 200).flatmap(lambda total: st.tuples(st.integers(0, total), st.just(total))), min_size=2, max_size=5
)


@pytest.mark.parametrize("events, totals, scores, chi2, p", FROM_R)
def test_agrees_with_r(events, totals, scores, chi2, p):
    found = cochran_armitage(events, totals, scores)
    assert found.z**2 == pytest.approx(chi2, rel=1e-9)
    assert found.p == pytest.approx(p, rel=1e-9)


def test_z_of_the_sas_example_as_printed():
    events, totals, *_ = FROM_R[2]
    assert cochran_armitage(events, totals).z == pytest.approx(4.7918, abs=0.00005)


def test_a_share_that_falls_with_the_class_has_a_negative_z():
    """Fleiss 1981, p. 139: 97, 97, 95 and 85 % smokers."""
    events, totals, *_ = FROM_R[1]
    assert cochran_armitage(events, totals).z < 0


@given(classes)
def test_is_mantels_test_but_for_the_divisor(table):
    """statsmodels gives M², whose variance divides by N - 1: chi-square x (N - 1)/N."""
    events, totals = np.array(table).T
    found = cochran_armitage(events, totals)
    assume(found is not None)
    cases = totals.sum()
    mantel = Table(np.array([totals - events, events]), shift_zeros=False).test_ordinal_association(
        row_scores=np.array([0, 1]), col_scores=np.arange(len(totals))
    )
    assert abs(mantel.zscore) == pytest.approx(abs(found.z) * np.sqrt((cases - 1) / cases), abs=1e-6)


@given(classes, st.floats(0.1, 10), st.floats(-5, 5))
def test_scores_may_be_shifted_and_stretched(table, stretch, shift):
    events, totals = np.array(table).T
    plain = cochran_armitage(events, totals)
    moved = cochran_armitage(events, totals, shift + stretch * np.arange(len(totals)))
    assert (plain is None) == (moved is None)
    if plain:
        assert moved.z == pytest.approx(plain.z, abs=1e-6)


@given(classes)
def test_reversing_the_classes_or_the_outcome_turns_the_sign(table):
    events, totals = np.array(table).T
    plain = cochran_armitage(events, totals)
    assume(plain is not None)
    assert cochran_armitage(events[::-1], totals[::-1]).z == pytest.approx(-plain.z, abs=1e-9)
    assert cochran_armitage(totals - events, totals).z == pytest.approx(-plain.z, abs=1e-9)


def test_an_empty_class_changes_nothing():
    assert cochran_armitage([1, 0, 4], [10, 0, 10], [1, 2, 3]) == pytest.approx(
        cochran_armitage([1, 4], [10, 10], [1, 3])
    )


@pytest.mark.parametrize(
    "events, totals",
    [([0, 0, 3], [0, 0, 9]), ([0, 0], [5, 5]), ([5, 5], [5, 5]), ([0, 0], [0, 0])],
    ids=["one class", "no events", "all events", "no cases"],
)
def test_nothing_to_test_is_no_test(events, totals):
    assert cochran_armitage(events, totals) is None


def test_wrong_tables_are_a_fault_of_the_caller():
    with pytest.raises(ValueError, match="2 scores"):
        cochran_armitage([1, 2, 3], [4, 4, 4], [1, 2])
    with pytest.raises(ValueError, match="between 0"):
        cochran_armitage([5, 2], [4, 4])
