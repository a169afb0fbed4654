"""Demand a month: closed, out of stock, thrown away, and what the shelf says beside the records."""

from datetime import date

import pytest

from pipeline.stock.demand import Calendar, _demand, _empty_months, day_number, month_of
from pipeline.stock.shelf import Count, Shelf, depletion

RULES = {"fewest_counted_days": 56, "ratio_fault_low": 0.5, "ratio_fault_high": 2.0}
JANUARY = 2026 * 12
MONTHS = Calendar(JANUARY, JANUARY + 5, set())


def day(month: int, of_month: int = 1) -> int:
    return day_number(date(2026, month, of_month))


def shelf(**parts):
    return Shelf(**{"on_hand": 0.0, "last_day": day(6), "counts": [], "supplied": {}, "empty": [], **parts})


def demand(use, on=None, months=MONTHS, pack=10.0, open_days=None):
    kinds = {("dog", "dental"): [0.0] * len(months.months)}
    return _demand(months, use, kinds if use else {}, on, pack, open_days, RULES, day(6, 30))


def test_use_by_month_and_a_closed_month_is_missing():
    found = demand({day(1, 5): 3.0, day(1, 31): 4.0, day(3, 1): 5.0}, months=MONTHS._replace(closed={JANUARY + 1}))
    assert found.values == [3 + 4, None, 5, 0, 0, 0]
    assert found.why_missing == {1: "closed"}


def test_a_pack_thrown_away_half_full_is_demand():
    found = demand({day(1, 5): 3.0, day(2, 5): 3.0}, pack=10.0, open_days=28)
    assert found.values[:2] == [10, 10]
    assert found.discarded[1] == 7


def test_the_month_of_a_day():
    assert [month_of(day(1, 31)), month_of(day(2, 1))] == [JANUARY, JANUARY + 1]


def test_between_counts_the_shelf_says_how_much_the_records_miss():
    # 60 there, 20 came, 5 expired, 15 left: 60 used up; the records say 40
    counts = [Count(day(1), 60.0, 0.0, 0), Count(day(5), 15.0, 20.0 - 5.0, 0)]
    found = demand({day(2): 30.0, day(4): 10.0, day(6): 8.0}, shelf(counts=counts))
    assert found.factor == (60 + 20 - 5 - 15) / 40
    assert found.values == [0, pytest.approx(30 * 1.5), 0, pytest.approx(10 * 1.5), 0, pytest.approx(8 * 1.5)]


def test_a_shelf_and_records_that_cannot_both_be_right_leave_the_shelf():
    counts = [Count(day(1), 59.0, 0.0, 0), Count(day(3), 0.0, 0.0, 0)]
    found = demand({day(2): 10.0}, shelf(counts=counts))
    assert (found.ratio, found.factor, found.source) == (5.9, 1, "counts")
    assert found.values[:3] == [pytest.approx(31), pytest.approx(28), 0]
    assert found.charted[1] == 10
    given_out = shelf(counts=counts, supplied={day(2, 14): 57.0})
    assert demand({day(2): 10.0}, given_out).values[:2] == [0, 57]


def test_counts_a_month_apart_are_too_few():
    found = demand({day(2): 10.0}, shelf(counts=[Count(day(2), 60.0, 0.0, 0), Count(day(3), 45.0, 0.0, 0)]))
    assert (found.ratio, found.factor, found.ratio_said) == (None, 1, "counts too close together")


def test_a_movement_of_unknown_quantity_leaves_the_stretch_unknown():
    assert depletion(Count(0, 60.0, 0.0, 0), Count(90, 15.0, 0.0, 1)) is None


def test_an_item_nobody_charts_is_used_as_the_store_gives_it_out():
    found = demand({}, shelf(supplied={day(2): 4.0, day(2, 20): 3.0}))
    assert (found.source, found.values[1]) == ("supplied", 7)


def test_or_as_it_is_missed_at_the_next_count():
    found = demand({}, shelf(counts=[Count(day(2), 59.0, 0.0, 0), Count(day(4), 0.0, 0.0, 0)]))
    assert found.source == "counts"
    assert found.values == [0, pytest.approx(28), pytest.approx(31), 0, 0, 0]


def test_an_item_without_anything_known_has_no_demand():
    assert demand({}).values == [None] * 6


def test_a_month_without_stock_is_missing():
    # empty from 10 February to 5 April, nothing charted as used
    empty = shelf(empty=[(day(2, 10), day(4, 5))])
    assert _empty_months(empty, {}, MONTHS, day(6, 30)) == {JANUARY + 1, JANUARY + 2}


def test_a_shelf_that_is_empty_while_an_open_pack_serves_is_not_out_of_stock():
    empty = shelf(empty=[(day(2, 10), day(4, 5))])
    assert _empty_months(empty, {day(4, 2): 1.0}, MONTHS, day(6, 30)) == set()
    assert _empty_months(empty, {day(2, 20): 1.0}, MONTHS, day(6, 30)) == {JANUARY + 2}


def test_still_empty_at_the_end_of_the_record():
    assert _empty_months(shelf(empty=[(day(6, 1), None)]), {}, MONTHS, day(6, 30)) == {JANUARY + 5}
