"""Limits of control charts against NIST, Montgomery and Laney; which chart is chosen; which months set the limits."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import expon, geom, t

from pipeline.errors import SettingsFault
from pipeline.statistics.control_charts import (
    choose,
    g_limits,
    individuals_limits,
    laney_factor,
    moving_range_limits,
    p_limits,
    sigma_z,
    t_limits,
    u_limits,
)
from pipeline.statistics.phases import phase_of, spans, stated_changes
from pipeline.statistics.run_rules import sides

# Orange juice cans, 30 samples of 50: NIST data file MONITOR-6_3_3_2.DAT and Montgomery DC 2012, Example 7.1.
JUICE = np.array([12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13,
                  9, 6])  # fmt: skip
# Montgomery 2012, Table 7.4: purchase orders in error.
ORDERS = np.array([12, 8, 6, 9, 10, 12, 11, 16, 10, 6, 20, 15, 9, 8, 6, 8, 10, 7, 5, 8, 5, 8, 10, 6, 9])
ORDERS_N = np.array([100, 80, 80, 100, 110, 110, 100, 100, 90, 90, 110, 120, 120, 120, 110, 80, 80, 80, 90, 100, 100,
                     100, 100, 90, 90])  # fmt: skip
# NIST 6.3.3.1 (MONITOR-6_3_3_1.DAT) and Montgomery Example 7.3: counts of defects.
WAFERS = np.array([16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13])
BOARDS = np.array(
    [21, 24, 16, 12, 15, 5, 28, 20, 31, 25, 20, 24, 16, 19, 10, 17, 13, 22, 18, 39, 30, 24, 16, 19, 17, 15]
)
# Montgomery Example 6.5, Table 6.7: mortgage costs, limits from the first 20.
COSTS = np.array([310, 288, 297, 298, 307, 303, 294, 297, 308, 306, 294, 299, 297, 299, 314, 295, 293, 306, 301, 304,
                  305, 282, 305, 296, 314, 295, 287, 301, 298, 311, 310, 292, 305, 299, 304, 310, 304, 305,
                  333, 328])  # fmt: skip
# Weekly attendances at emergency departments seen within four hours; data of an R package (nhs_accidents), cited
# by Mohammed MA et al.; figures of its own function, method of Laney DB 2002, Qual Eng 14:531-537.
SEEN = np.array([266501, 264225, 276532, 281461, 269071, 261215, 270409, 279778, 270483, 270320, 267923, 271478, 255353,
                 256820, 261835, 259144, 255910, 260863, 264465, 260989])  # fmt: skip
ATTENDED = np.array([280443, 276823, 291681, 296155, 282343, 275888, 283867, 295251, 284468, 282529, 279618, 283932,
                     266629, 268091, 276803, 271578, 266005, 273520, 278574, 273772])  # fmt: skip
# Montgomery 2012, Table 7.14: hours between valve failures.
VALVES = [286, 948, 536, 124, 816, 729, 4, 143, 431, 8, 2837, 596, 81, 227, 603, 492, 1199, 1214, 2831, 96]


def outside(values, limits):
    return [int(i) + 1 for i in np.flatnonzero(sides(values, limits.low, limits.high))]


def test_p_chart_of_nist_6_3_3_2():
    """NIST prints 0.2313, 0.4103 and 0.0524; the upper limit is 0.41024 exactly, rounded on the way there."""
    limits = p_limits(JUICE, np.full(30, 50), np.arange(30))
    assert [limits.centre, limits.high[0], limits.low[0]] == pytest.approx([0.2313, 0.4103, 0.0524], abs=1e-4)


def test_p_chart_of_montgomery_example_7_1_and_its_revision():
    """0.2313333, 0.4102391, 0.0524275, points 15 and 23 out (R qcc); then without them 0.215, 0.3893, 0.0407 and
    point 21 out too (qicharts2, ex_7.1_5)."""
    cases = np.full(30, 50)
    limits = p_limits(JUICE, cases, np.arange(30))
    assert [limits.centre, limits.high[0], limits.low[0]] == pytest.approx([0.2313333, 0.4102391, 0.0524275], abs=5e-8)
    assert outside(JUICE / 50, limits) == [15, 23]
    revised = p_limits(JUICE, cases, np.delete(np.arange(30), [14, 22]))
    assert [revised.centre, revised.high[0], revised.low[0]] == pytest.approx([0.215, 0.3893, 0.0407], abs=5e-5)
    assert outside(JUICE / 50, revised) == [15, 21, 23]


def test_p_chart_of_montgomery_table_7_4_with_unequal_samples():
    """qicharts2, tbl_7.4_1: 0.0955102; 0.1836857 and 0.007334695 at n 100; 0.1940934 and 0 at n 80; 11 out."""
    limits = p_limits(ORDERS, ORDERS_N, np.arange(25))
    assert [limits.centre, limits.high[0], limits.low[0]] == pytest.approx(
        [0.0955102, 0.1836857, 0.007334695], abs=5e-8
    )
    assert (limits.high[1], limits.low[1]) == (pytest.approx(0.1940934, abs=5e-8), 0)
    assert outside(ORDERS / ORDERS_N, limits) == [11]


def test_laney_chart_of_emergency_attendances():
    """sigma-z 10.6404219; 16 points outside the p chart, none outside p': 0.940129644 to 0.965669779 in week 1."""
    weeks = np.arange(20)
    assert sigma_z(SEEN, ATTENDED, weeks) == pytest.approx(10.6404219, abs=5e-8)
    assert len(outside(SEEN / ATTENDED, p_limits(SEEN, ATTENDED, weeks))) == 16
    limits = p_limits(SEEN, ATTENDED, weeks, laney_factor(SEEN, ATTENDED, weeks))
    assert outside(SEEN / ATTENDED, limits) == []
    assert [limits.centre, limits.low[0], limits.high[0]] == pytest.approx([0.952899711, 0.940129644, 0.965669779])


def test_c_charts_are_u_charts_of_equal_exposure():
    """NIST 6.3.3.1: 16, 28, 4, point 24 out. Montgomery Example 7.3 prints 33.22 and 6.48 from a mean rounded to
    19.85; 6 and 20 out, without them 19.66667, 32.9708, 6.362532 (qicharts2, ex_7.3_3)."""
    limits = u_limits(WAFERS, np.ones(25), np.arange(25))
    assert (limits.centre, limits.high[0], limits.low[0]) == (16, 28, 4)
    assert outside(WAFERS, limits) == [24]
    boards = u_limits(BOARDS, np.ones(26), np.arange(26))
    assert [boards.high[0], boards.low[0]] == pytest.approx([33.22, 6.48], abs=0.01)
    assert outside(BOARDS, boards) == [6, 20]
    revised = u_limits(BOARDS, np.ones(26), np.delete(np.arange(26), [5, 19]))
    assert [revised.centre, revised.high[0], revised.low[0]] == pytest.approx([19.66667, 32.9708, 6.362532], abs=5e-6)


def test_u_chart_of_montgomery_example_7_5():
    """Dyed cloth, Table 7.11, per 50 m²: 1.423256; limits of the first three rolls (qicharts2, ex_7.5_1)."""
    rolls = np.array([500, 400, 650, 500, 475, 500, 600, 525, 600, 625]) / 50
    limits = u_limits([14, 12, 20, 11, 7, 10, 21, 16, 19, 23], rolls, np.arange(10))
    assert limits.centre == pytest.approx(1.423256, abs=5e-7)
    assert limits.high[:3] == pytest.approx([2.555038, 2.688626, 2.415894], abs=5e-7)
    assert limits.low[:3] == pytest.approx([0.2914739, 0.1578852, 0.4306174], abs=5e-8)


def test_individuals_chart_of_nist_6_3_2_2():
    values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    limits = individuals_limits(values, np.arange(10))
    assert [limits.centre, limits.high[0], limits.low[0]] == pytest.approx([50.81, 55.8041, 45.8159], abs=5e-5)
    assert moving_range_limits(values, np.arange(10))[1] == pytest.approx(1.8778, abs=5e-5)


def test_individuals_chart_of_montgomery_example_6_5():
    """300.5, 321.2167, 279.7833, 39 and 40 out; moving range 7.789474, upper limit 25.44821 (ex_6.5_3 and 4)."""
    limits = individuals_limits(COSTS, np.arange(20))
    assert [limits.centre, limits.high[0], limits.low[0]] == pytest.approx([300.5, 321.2167, 279.7833], abs=5e-5)
    assert outside(COSTS, limits) == [39, 40]
    ranges, mean, most = moving_range_limits(COSTS, np.arange(20))
    assert [mean, most] == pytest.approx([7.789474, 25.44821], abs=5e-6)
    assert np.isnan(ranges[0]) and ranges[1] == 22


def test_t_chart_limits_are_quantiles_of_the_exponential():
    """Valve failures of Montgomery Table 7.14: pyqicharts 2.0.0 draws 710 and 4692 by this convention. (The power
    1/3.6 that Montgomery uses puts the upper limit at 6938.)"""
    limits = t_limits(np.mean(VALVES))
    assert limits.high == pytest.approx(4692, abs=0.5)
    assert (limits.low, limits.middle) == pytest.approx(tuple(expon.ppf([0.00135, 0.5], scale=np.mean(VALVES))))


def test_g_chart_limits_are_quantiles_of_the_geometric():
    """Mean 61/12 between events: 0.99865 quantile 36, where pccpy 0.16.2 with a continuous formula gives 35.81."""
    assert g_limits(1 / (1 + 61 / 12)).high == 36


@given(st.floats(0.0005, 0.9))
def test_g_chart_agrees_with_scipy(share):
    wanted = geom.ppf([0.00135, 0.5, 0.99865], share) - 1
    assert list(g_limits(share)) == pytest.approx(wanted, abs=1)
    for gap, tail in zip(g_limits(share), (0.00135, 0.5, 0.99865), strict=True):
        assert geom.cdf(gap + 1, share) >= tail - 1e-9
        assert gap == 0 or geom.cdf(gap, share) < tail + 1e-9


@given(st.lists(st.tuples(st.integers(1, 19), st.just(20)), min_size=8, max_size=24))
def test_p_limits_mirror_with_the_outcome(months):
    events, cases = np.array(months).T
    base = np.arange(8)
    one, other = p_limits(events, cases, base), p_limits(cases - events, cases, base)
    assert other.low == pytest.approx(1 - one.high)
    assert other.high == pytest.approx(1 - one.low)
    assert sigma_z(cases - events, cases, base) == pytest.approx(sigma_z(events, cases, base))


def test_sigma_z_of_chance_alone_is_about_one():
    drawn = np.random.default_rng(5)
    assert sigma_z(drawn.binomial(200, 0.3, (2000, 24)), np.full(24, 200), np.arange(24)).mean() == pytest.approx(
        1, abs=0.02
    )


def test_a_mean_moving_range_of_m_values_is_worth_about_0_62_of_m_less_1_degrees_of_freedom():
    """Wheeler DJ's rule (from memory), on which the strength of a point on an individuals chart rests: a 13th value
    beyond limits that 12 set, in 400,000 normal series: 7 times the 0.0027 of limits known without error. The rule
    is an approximation that orders signals; asked to be within a fifth."""
    drawn = np.random.default_rng(62).normal(size=(400_000, 13))
    limits = individuals_limits(drawn, np.arange(12))
    beyond = (drawn[:, 12] > limits.high[:, 12]) | (drawn[:, 12] < limits.low[:, 12])
    assert beyond.mean() == pytest.approx(2 * t.sf(3, 0.62 * 11), rel=0.2)


@pytest.mark.parametrize(
    "kind, events, cases, chart, words",
    [
        ("share", [6] * 12, [60] * 12, "p", "not over 1.2"),
        ("share", [30, 6] * 6, [60] * 12, "p'", "over 1.2"),
        ("share", [0, 8] * 6, [60] * 12, "p", "too few for the p' correction"),
        ("share", [1, 0] * 6, [60] * 12, "g", "with it: 0.50 expected a month"),
        ("share", [59, 60] * 6, [60] * 12, "g", "without it: 0.50 expected a month"),
        ("rate", [3] * 12, [80.5] * 12, "u", "3.0 expected a month"),
        ("rate", [1, 0] * 6, [80.5] * 12, "t", "0.50 expected a month, fewer than 1"),
        ("value", [np.nan] * 12, [np.nan] * 12, "individuals", "one value a month"),
    ],
)
def test_the_chart_is_chosen_by_rule_and_the_rule_is_said(kind, events, cases, chart, words):
    found, why = choose(kind, np.array(events), np.array(cases), np.arange(12))
    assert found == chart
    assert words in why


def test_no_limits_below_8_months_all_of_8_to_11_and_the_first_12_from_12():
    assert spans(np.zeros(7, int)) == []
    for months, base in [(8, 8), (11, 11), (12, 12), (30, 12)]:
        (span,) = spans(np.zeros(months, int))
        assert (span.base.tolist(), len(span.judged)) == (list(range(base)), months)


def test_a_young_phase_is_held_against_the_one_before_until_it_has_8_months():
    young, grown = spans(np.repeat([0, 1], [14, 7])), spans(np.repeat([0, 1], [14, 8]))
    assert [(len(one.base), len(one.judged)) for one in young] == [(12, 21)]
    assert [(len(one.base), len(one.judged)) for one in grown] == [(12, 14), (8, 8)]
    assert spans(np.repeat([0, 1], [5, 6])) == []
    assert [one.judged.tolist() for one in spans(np.repeat([0, 1], [5, 9]))] == [list(range(5, 14))]


def test_stated_changes_begin_with_their_first_whole_month():
    changes = stated_changes(
        {"new circuits": {"from": date(2025, 8, 2), "measures": ["rebreathing"]}, "warming": "2025-08-01"}
    )
    assert [(change.name, change.first_month) for change in changes] == [
        ("warming", "2025-08"),
        ("new circuits", "2025-09"),
    ]
    assert phase_of(["2025-07", "2025-08", "2025-09", "2026-01"], changes).tolist() == [0, 1, 2, 2]
    assert changes[1].about("rebreathing_minutes") and not changes[1].about("hypothermia")
    assert changes[0].about("hypothermia")


@pytest.mark.parametrize(
    "given_", ["August 2025", 2025, {"start": date(2025, 8, 1)}, {"from": "2025-08-01", "measures": "all"}]
)
def test_a_change_without_a_day_is_named(given_):
    with pytest.raises(SettingsFault, match="warming"):
        stated_changes({"warming": given_})
