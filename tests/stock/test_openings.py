"""Packs opened and leftovers thrown away."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.stock.openings import Opened, openings


def test_a_vial_kept_for_four_weeks_is_thrown_away_when_its_time_is_over():
    # 3 mL a week from a 10 mL vial that may be kept 28 days: the fifth week opens the second, and 1 mL of the first
    # was left over after three weeks and used in the fourth, so two are opened in week 1 and week 4
    weeks = {0: 3.0, 7: 3.0, 14: 3.0, 21: 3.0}
    assert openings(weeks, pack=10, open_days=28) == {0: Opened(1, 0.0), 21: Opened(1, 0.0)}
    assert openings(weeks, pack=10, open_days=14) == {0: Opened(1, 0.0), 14: Opened(1, 4.0)}


def test_a_large_day_opens_several():
    assert openings({1: 45.0}, pack=20, open_days=1) == {1: Opened(3, 0.0)}


def test_just_a_pack_opens_one():
    assert openings({1: 0.1 + 0.2 + 0.7, 2: 1.0}, pack=1, open_days=1) == {1: Opened(1, 0.0), 2: Opened(1, 0.0)}


USE = st.dictionaries(st.integers(0, 400), st.integers(1, 300).map(lambda quarters: quarters / 4), max_size=60)


@given(USE, st.sampled_from([1.0, 5.0, 10.0, 50.0]), st.integers(1, 60))
def test_what_is_opened_is_used_thrown_away_or_still_open(use, pack, open_days):
    days = openings(use, pack, open_days)
    opened = sum(one.packs for one in days.values()) * pack
    discarded = sum(one.discarded for one in days.values())
    left = opened - sum(use.values()) - discarded
    assert -1e-9 <= left < pack
    assert all(0 <= one.discarded < pack for one in days.values())


@given(USE, st.sampled_from([5.0, 10.0]))
def test_a_longer_life_never_opens_more(use, pack):
    opened = [sum(one.packs for one in openings(use, pack, days).values()) for days in (1, 7, 28, 1000)]
    assert opened == sorted(opened, reverse=True)
    assert opened[-1] == pytest.approx(-(-sum(use.values()) // pack))
