"""Run rules against Anhoej's published limits, coin tosses counted in full, and rules of symmetry."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.statistics.run_rules import (
    about,
    all_runs,
    crossing_limit,
    crossing_tail,
    run_limit,
    run_tail,
    runs,
    sides,
)

# Anhoej J, Olesen AV 2014, PLoS ONE 9:e113825: useful points, longest run allowed, fewest crossings allowed.
ANHOEJ = [(10, 6, 2), (15, 7, 4), (20, 7, 6), (24, 8, 8), (25, 8, 8), (40, 8, 14), (44, 8, 16), (64, 9, 25)]

tosses = st.lists(st.sampled_from([-1, 0, 1]), min_size=1, max_size=40)


def slow(signs):
    """Longest run and crossings counted the plain way."""
    useful = [sign for sign in signs if sign]
    text = "".join("ab"[sign > 0] for sign in useful)
    longest = max((len(part) for part in text.replace("ab", "a b").replace("ba", "b a").split()), default=0)
    return longest, text.count("ab") + text.count("ba")


@pytest.mark.parametrize("useful, longest, crossings", ANHOEJ)
def test_limits_match_anhoej_2014(useful, longest, crossings):
    assert (run_limit(np.array(useful)), crossing_limit(np.array(useful))) == (longest, crossings)


@pytest.mark.parametrize("length", range(1, 11))
def test_tails_match_every_way_ten_coins_can_fall(length):
    every = [slow(signs) for signs in product((-1, 1), repeat=10)]
    assert run_tail(10, length) == pytest.approx(np.mean([longest >= length for longest, _ in every]))
    assert crossing_tail(10, length - 1) == pytest.approx(np.mean([crossed <= length - 1 for _, crossed in every]))


@given(tosses)
def test_counts_match_the_plain_way(signs):
    found = runs(signs)
    assert (found.longest, found.crossings) == slow(signs)
    assert found.useful == sum(sign != 0 for sign in signs)


@given(st.lists(tosses.filter(lambda signs: len(signs) > 3), min_size=2, max_size=5))
def test_many_series_at_once_are_judged_as_one_by_one(series):
    length = min(len(signs) for signs in series)
    together = runs(np.array([signs[:length] for signs in series]))
    for place, signs in enumerate(series):
        alone = runs(signs[:length])
        assert [part[place] for part in together] == list(alone)


@given(tosses)
def test_turning_the_sides_or_the_time_changes_no_verdict(signs):
    plain = runs(signs)
    for other in ([-sign for sign in signs], signs[::-1]):
        found = runs(other)
        assert (found.longest, found.crossings, found.run, found.cross) == (
            plain.longest, plain.crossings, plain.run, plain.cross,
        )  # fmt: skip


@given(tosses, st.integers(0, 40))
def test_a_point_on_the_median_is_as_if_never_there(signs, place):
    assert runs([*signs[:place], 0, *signs[place:]])[:7] == pytest.approx(runs(signs)[:7])


def test_a_run_needs_ten_useful_points_and_one_more_than_allowed():
    assert not runs([1] * 9).run
    assert runs([1] * 10).run
    assert not runs([1] * 6 + [-1] * 4).run
    assert runs([1] * 7 + [-1] * 3).run


def test_a_run_that_ended_long_ago_is_not_news():
    over = [1] * 9 + [-1, 1, -1, 1, -1]
    assert runs(over).run and not runs(over).late
    assert runs(over[::-1]).late
    assert runs([*over[::-1], 0, 0]).late
    assert not runs([*over[::-1], 0, 0, 0]).late


def test_runs_step_over_points_on_the_median():
    assert all_runs([0, 1, 0, 1, -1, 0, -1, -1]) == [(1, 3, 2), (4, 7, 3)]
    assert all_runs([0, 0]) == []


def test_a_point_on_a_limit_is_inside():
    assert sides([1.0, 1.1, -0.1, np.nan], 0.0, 1.0).tolist() == [0, 1, -1, 0]
    assert about([0.1 + 0.2, 0.4, np.nan], 0.3).tolist() == [0, 1, 0]


def test_false_rate_of_the_rules_is_what_was_published():
    """Anhoej 2014 and its follow-ups put the two rules together at about 5 to 10 % of charts of 10 to 24 unchanged
    points (from memory); counted here over 20,000 fair charts."""
    drawn = np.random.default_rng(2014).choice([-1, 1], (20_000, 24))
    found = runs(drawn)
    assert 0.05 < (found.run | found.cross).mean() < 0.10
    assert found.run.mean() == pytest.approx(run_tail(24, 9), abs=0.005)
    assert found.cross.mean() == pytest.approx(crossing_tail(24, 7), abs=0.005)
