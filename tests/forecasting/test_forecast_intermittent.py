"""Croston, SBA and TSB against what three public packages return, and rules that hold for any demand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.forecasting.intermittent import croston, sba, tsb

# Monthly sales of product C, a lubricant: Makridakis, Wheelwright, Hyndman, Forecasting: Methods and
# Applications, 1998; the series ships as productC in the R packages expsmooth and tsintermittent.
PRODUCT_C = [
    0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0, 0, 0, 0, 7, 0, 0, 0, 0, 0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0,
]  # fmt: skip

DEMANDS = st.lists(st.sampled_from([0.0, 0.0, 0.0, 0.5, 1.0, 2.0, 7.0]), min_size=1, max_size=60)


def test_croston_equals_r_forecast_tsintermittent_and_statsforecast():
    # forecast 8.20 croston(), tsintermittent crost(init.opt = FALSE), statsforecast 2.1.1 CrostonClassic, alpha 0.1
    assert croston(PRODUCT_C) == pytest.approx(0.984596521, abs=5e-10)


def test_sba_equals_r_tsintermittent_and_statsforecast():
    # tsintermittent crost(type = "sba", init.opt = FALSE), statsforecast 2.1.1 CrostonSBA
    assert sba(PRODUCT_C) == pytest.approx(0.935366695, abs=5e-10)


def test_tsb_equals_r_tsintermittent_and_statsforecast():
    # tsintermittent tsb(init = "naive", init.opt = FALSE), statsforecast 2.1.1 TSB(0.1, 0.1)
    assert tsb(PRODUCT_C) == pytest.approx(0.804065102, abs=5e-10)


@pytest.mark.parametrize("method", [croston, sba, tsb])
def test_never_needed_forecasts_nothing(method):
    assert method([0, 0, 0]) == 0.0


@given(DEMANDS)
def test_methods_stay_between_nothing_and_the_largest_demand(values):
    for method in (croston, sba, tsb):
        assert 0.0 <= method(values) <= max(values) + 1e-12


@given(DEMANDS, st.floats(0.1, 50))
def test_another_unit_gives_the_same_forecast_in_it(values, factor):
    for method in (croston, sba, tsb):
        assert method([value * factor for value in values]) == pytest.approx(method(values) * factor, rel=1e-9)


@given(DEMANDS)
def test_tsb_fades_and_croston_does_not_when_an_item_is_no_longer_used(values):
    retired = [*values, *[0.0] * 12]
    assert croston(retired) == croston(values)
    assert tsb(retired) == pytest.approx(tsb(values) * 0.9**12)


def test_every_month_in_demand_is_plain_smoothing():
    # interval 1 and probability 1 throughout: the level of single exponential smoothing, alpha 0.1, started at the
    # first value. NIST/SEMATECH e-Handbook 6.4.3.1, 12 values, forecast of the next: 71.50
    values = [71, 70, 69, 68, 64, 65, 72, 78, 75, 75, 75, 70]
    assert croston(values) == pytest.approx(71.50, abs=0.005)
    assert tsb(values) == pytest.approx(71.50, abs=0.005)
