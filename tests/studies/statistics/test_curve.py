import math

import numpy as np
import pytest

from benchtemp.studies.statistics.curve import (
    corrected_criterion,
    fit_curve,
    fit_linear,
    profile_interval,
)
from benchtemp.studies.statistics.intervals import t_factor

X = np.linspace(0.0, 10.0, 12)


def test_a_linear_model_is_fitted_directly_and_alike(rng):
    y = 2.0 + 0.5 * X + rng.normal(0, 0.1, 12)
    columns = np.stack((np.ones(12), X), axis=1)
    direct = fit_linear(columns, y)
    searched = fit_curve(lambda p: p[0] + p[1] * X, y, [(1.0, 1.0)])
    np.testing.assert_allclose(direct.parameters, searched.parameters, rtol=1e-8)
    np.testing.assert_allclose(direct.covariance, searched.covariance, rtol=1e-6)
    assert direct.dof == 10


def test_parameters_that_cannot_be_told_apart_are_no_fit():
    assert fit_curve(lambda p: (p[0] + p[1]) * X, 3.0 * X, [(1.0, 1.0)]) is None
    assert fit_linear(np.stack((X, 2 * X), axis=1), X) is None


def test_more_parameters_than_points_are_no_fit():
    assert fit_curve(lambda p: p[0] + p[1] * np.arange(2.0) + p[2], np.array([1.0, 2.0]), [(1, 1, 1)]) is None


def test_a_model_that_overflows_on_the_way_is_survived():
    y = np.exp(0.3 * X)
    curve = fit_curve(lambda p: np.exp(p[0] * X), y, [(200.0,), (0.1,)])
    assert curve.parameters[0] == pytest.approx(0.3, rel=1e-6)


def test_profile_interval_of_a_linear_parameter_is_students(rng):
    y = 2.0 + 0.5 * X + rng.normal(0, 0.1, 12)
    columns = np.stack((np.ones(12), X), axis=1)
    line = fit_linear(columns, y)

    def square_sum(slope):
        rest = y - slope * X
        return float(((rest - rest.mean()) ** 2).sum())

    found = profile_interval(square_sum, float(line.parameters[1]), line.square_sum, 10, bounds=(-5, 5))
    half = t_factor(10) * float(line.uncertainties[1])
    assert (found.low, found.high) == pytest.approx(
        (line.parameters[1] - half, line.parameters[1] + half), abs=1e-5
    )


def test_a_profile_without_an_end_says_so():
    found = profile_interval(lambda _: 1.0, 0.0, 1.0, 5, bounds=(-1, 1))
    assert (found.low, found.high) == (-math.inf, math.inf)


def test_criterion_punishes_parameters_and_refuses_too_many():
    assert corrected_criterion(1.0, 20, 3) > corrected_criterion(1.0, 20, 2)
    assert corrected_criterion(1.0, 5, 3) == math.inf
    # n ln(RSS/n) + 2k + 2k(k+1)/(n-k-1) with k = 3 for two parameters and the scatter.
    assert corrected_criterion(2.0, 10, 2) == pytest.approx(10 * math.log(0.2) + 6 + 24 / 6)
