"""Poisson counts and O/E against printed examples, R and scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from pipeline.statistics.poisson import exact_limits, observed_over_expected

# Garwood F 1936, Biometrika 28:437-442, as printed in handbooks to three places (0: R epitools' help page; the
# others from memory), and R epitools 0.5-10.1 pois.exact, which stops its search at about 1e-5.
GARWOOD = [
    (0, (0, 3.689), (0, 3.68887980037)),
    (1, (0.025, 5.572), (0.0252895667952, 5.57164328753)),
    (2, (0.242, 7.225), (0.242203639219, 7.22469299966)),
    (3, (0.619, 8.767), (0.618671217879, 8.76727658848)),
    (4, (1.090, 10.242), (1.08988915242, 10.2415887508)),
    (5, (1.623, 11.668), (1.6234856631, 11.6683219701)),
    (10, (4.795, 18.390), (4.7953885872, 18.3903584187)),
]

# qicharts2 hospital_infections: infections in risk days over 24 months and six hospitals; rate per 10,000 and
# exact limits recomputed with scipy 1.18.1.
INFECTIONS = [
    (1936, 2381981, 8.127686, 7.769633, 8.497982),
    (1363, 2226492, 6.121737, 5.801018, 6.455574),
    (8983, 2126647, 42.2402, 41.371161, 43.122897),
]


@pytest.mark.parametrize("count, printed, from_r", GARWOOD)
def test_matches_garwood_1936_and_r(count, printed, from_r):
    assert exact_limits(count) == pytest.approx(printed, abs=0.0005 + 1e-9)
    assert exact_limits(count) == pytest.approx(from_r, abs=5e-5)


@pytest.mark.parametrize("events, days, rate, low, high", INFECTIONS)
def test_infections_per_ten_thousand_days(events, days, rate, low, high):
    per = 10_000 / days
    assert [events * per, *(limit * per for limit in exact_limits(events))] == pytest.approx(
        (rate, low, high), abs=1e-4
    )


def test_openepi_standardised_ratio():
    """Sullivan KM 2006, OpenEpi documentation: 4 observed, 3.3 expected, 1.212; limits by R epitools pois.exact."""
    found = observed_over_expected(4, 3.3)
    assert found.value == pytest.approx(1.212, abs=0.0005)
    assert (found.low, found.high) == pytest.approx((0.330269440128, 3.10351174267), abs=2e-5)


def test_henschler_1995_abstract():
    """Arch Toxicol 69:291-299: five cases, 7.97 (2.59-18.59). Expected is known only through the printed 7.97."""
    found = observed_over_expected(5, 5 / 7.97)
    assert (found.low, found.high) == pytest.approx((2.59, 18.59), abs=0.02)


def test_rosner_2010_tyre_workers():
    """Rosner B 2010: 26 bladder cancers, 18.1 expected, ratio 1.44 (from memory); limits as R epitools' method."""
    found = observed_over_expected(26, 18.1)
    assert found.value == pytest.approx(1.44, abs=0.005)
    assert (found.low, found.high) == pytest.approx((0.938346034011, 2.10475271177), abs=1e-9)


def test_boice_and_monson_1977_cohorts():
    """41 against 23.3 and 15 against 14.1 (abstract); R epitools pois.exact."""
    value, low, high = observed_over_expected([41, 15], [23.3, 14.1])
    assert value == pytest.approx([1.75965665236, 1.06382978723])
    assert low == pytest.approx([1.26275998486, 0.59541740866], abs=1e-6)
    assert high == pytest.approx([2.38717293822, 1.75462550612], abs=1e-6)


@given(st.integers(1, 5000))
def test_each_limit_leaves_a_fortieth_beyond(count):
    low, high = exact_limits(count)
    assert poisson.sf(count - 1, low) == pytest.approx(0.025, rel=1e-6)
    assert poisson.cdf(count, high) == pytest.approx(0.025, rel=1e-6)


@given(st.integers(0, 500), st.floats(0.1, 500))
def test_doubling_what_was_expected_halves_the_ratio(observed, expected):
    once, twice = observed_over_expected(observed, expected), observed_over_expected(observed, 2 * expected)
    assert tuple(twice) == pytest.approx(tuple(part / 2 for part in once))
    assert once.low <= once.value <= once.high


def test_nothing_expected_gives_no_ratio():
    assert np.isnan(observed_over_expected(2, 0)).all()


def test_a_negative_or_missing_count_is_a_fault_of_the_caller():
    for count in (-1, np.nan):
        with pytest.raises(ValueError, match="missing or negative"):
            exact_limits(count)
