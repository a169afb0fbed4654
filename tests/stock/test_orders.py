"""Order point, order day, packs and lots: printed examples, and rules that hold for any item."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.stock.lots import Lot, days_ahead, expiring
from pipeline.stock.orders import Terms, lead_demand, order, order_point, packs_up, tied_up


def test_order_point_of_a_printed_example():
    # Stevenson, Operations Management, 14th ed. 2021, chapter 12, example 8: lead-time demand 50 tons, standard
    # deviation 5, stock-out risk 3 %: z = 1.88, safety stock 9.40, order point 59.40
    assert order_point(50, 5, 0.97) == pytest.approx(59.40, abs=0.005)


def test_order_point_of_another_printed_example():
    # Heizer, Render, Operations Management 2014, chapter 12 (from memory): mean 350 kits, standard deviation 10, 5 %
    # stock-outs; z rounded to 1.65 there, so 366.5 is met to 0.1
    assert order_point(350, 10, 0.95) == pytest.approx(366.5, abs=0.1)


def test_order_point_of_demand_that_is_seldom_and_then_much():
    # standard deviation = mean is the exponential distribution: its 99 % quantile is -ln(0.01) means
    assert order_point(3.0, 3.0, 0.99) == pytest.approx(-math.log(0.01) * 3.0)
    # at 80 % the normal quantile is the larger, 1 + 0.8416 means against -ln(0.2)
    assert order_point(3.0, 3.0, 0.80) == pytest.approx((1 + 0.8416) * 3.0, abs=0.001)


def test_lead_demand_is_the_days_of_the_lead_time():
    assert lead_demand([2.0] * 40, 10, 6.0).mean == 2.0 * 10
    assert lead_demand([2.0] * 40, 2.5, 6.0).mean == 2.0 * 2.5
    assert lead_demand([2.0] * 40, 30.4375, 6.0).sd == pytest.approx(6.0)
    assert lead_demand([2.0] * 40, 30.4375 / 4, 6.0).sd == pytest.approx(6.0 / 2)


def terms(**other):
    return Terms(**{"pack": 10.0, "lead_days": 10.0, "service": 0.95, "minimum": 0.0, "shelf_days": None,
                    "cover_days": 30.0, **other})  # fmt: skip


def test_an_order_is_dated_to_the_day_the_point_is_reached():
    # 2 mL a day, no spread: 20 mL in ten days = the point; from 50 mL it is reached in 15 days
    placed = order(50.0, [2.0] * 366, 0.0, terms())
    assert (placed.point, placed.days_left, placed.days_to_order) == (20, 25, 15)
    assert placed.packs == 30 * 2 / 10


def test_at_or_below_the_point_the_order_is_due_and_fills_up():
    placed = order(7.0, [2.0] * 366, 0.0, terms())
    assert placed.days_to_order == 0
    assert placed.packs == packs_up(20 + 60 - 7, 10)


def test_the_point_is_rounded_up_to_packs_and_never_under_the_minimum():
    assert order(50.0, [2.0] * 366, 0.0, terms(pack=15.0)).point == 30
    assert order(50.0, [2.0] * 366, 0.0, terms(minimum=41.0)).point == 50


def test_no_more_than_is_used_before_it_expires():
    placed = order(0.0, [0.1] * 366, 0.0, terms(cover_days=366, shelf_days=90))
    assert placed.packs == 1 and placed.limited_by_shelf


def test_what_is_never_used_is_not_ordered():
    placed = order(5.0, [0.0] * 366, 0.0, terms())
    assert (placed.packs, placed.days_left) == (0, None)


@given(st.floats(0, 500), st.floats(0.01, 50), st.floats(0, 200), st.sampled_from([0.8, 0.9, 0.95]), st.floats(1, 60))
def test_a_higher_service_level_never_orders_later_nor_ties_up_less(on_hand, rate, sd, service, lead):
    low, high = (order(on_hand, [rate] * 366, sd, terms(lead_days=lead, service=level)) for level in (service, 0.99))
    assert low.point <= high.point
    assert (high.days_to_order or 0) <= (low.days_to_order if low.days_to_order is not None else 999)
    demand = lead_demand([rate] * 366, lead, sd)
    assert tied_up(demand, terms(), rate * 30, service).average <= tied_up(demand, terms(), rate * 30, 0.99).average


@given(st.floats(0, 500), st.floats(0.01, 50), st.floats(0, 200))
def test_after_the_order_the_point_is_passed_by_the_cover(on_hand, rate, sd):
    placed = order(on_hand, [rate] * 366, sd, terms())
    assert min(on_hand, placed.point) + placed.packs * 10 >= placed.target - 1e-6


def test_days_ahead_follow_the_months():
    # November has 30 days: 60 mL is 2 a day; December 31: 93 mL is 3 a day; after them their mean
    daily = days_ahead(date(2026, 11, 28), {2026 * 12 + 10: 60.0, 2026 * 12 + 11: 93.0}, 60)
    assert daily[:4] == [2.0, 2.0, 3.0, 3.0]
    assert daily[-1] == pytest.approx((60 + 93) / 61)


TODAY = date(2026, 11, 1)


def test_a_lot_that_outlasts_its_use_is_not_wasted():
    (lot,) = expiring([Lot("A", date(2026, 11, 20), 10.0)], [1.0] * 366, TODAY, 90)
    assert lot.unused == 0


def test_the_first_to_expire_is_used_first():
    lots = [Lot("B", date(2026, 11, 30), 40.0), Lot("A", date(2026, 11, 10), 15.0)]
    first, second = expiring(lots, [1.0] * 366, TODAY, 90)
    # ten days of use from A up to and on its date, the rest of November from B
    assert (first.lot, first.unused) == ("A", 15 - 10)
    assert (second.lot, second.unused) == ("B", 40 - (30 - 10))


def test_an_expired_lot_is_all_unused_and_later_lots_are_not_listed():
    lots = [Lot("OLD", date(2026, 10, 1), 5.0), Lot("FAR", date(2027, 11, 1), 5.0), Lot(None, None, 3.0)]
    assert [(one.lot, one.unused) for one in expiring(lots, [1.0] * 366, TODAY, 90)] == [("OLD", 5.0)]
