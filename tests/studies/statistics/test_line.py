import math

import numpy as np
import pytest
from scipy import stats

from benchtemp.studies.statistics.intervals import t_factor
from benchtemp.studies.statistics.line import fit_line, lack_of_fit_p

X = np.array([90.0, 90.0, 92.0, 92.0, 94.0, 94.0, 96.0, 96.0])
Y = np.array([87.2, 87.5, 89.0, 88.9, 91.1, 90.8, 92.6, 92.9])


def test_fieller_ends_are_where_the_lines_own_band_reaches_the_target():
    line = fit_line(X, Y)
    reach = line.reaches(91.5)
    assert line.at(reach.x) == pytest.approx(91.5, abs=1e-10)
    upper = line.mean_interval(reach.interval.low).high
    lower = line.mean_interval(reach.interval.high).low
    assert upper == pytest.approx(91.5, abs=1e-9)
    assert lower == pytest.approx(91.5, abs=1e-9)


def test_fieller_agrees_with_looking_at_every_point():
    line = fit_line(X, Y)
    grid = np.linspace(80, 110, 300_001)
    possible = [abs(line.at_mean + line.slope * (x - line.x_mean) - 91.5) for x in (grid[0],)]
    assert possible[0] > 0
    off = np.abs(line.at_mean + line.slope * (grid - line.x_mean) - 91.5)
    band = (
        t_factor(line.dof)
        * line.residual_sd
        * np.sqrt(1 / line.count + (grid - line.x_mean) ** 2 / line.spread_x)
    )
    inside = grid[off <= band]
    found = line.reaches(91.5).interval
    assert (found.low, found.high) == pytest.approx((inside.min(), inside.max()), abs=2e-4)


def test_a_slope_that_may_be_nought_bounds_no_setpoint():
    line = fit_line(X, np.array([90.3, 89.8, 90.1, 90.4, 89.9, 90.2, 90.0, 90.3]))
    assert line.slope_p() > 0.05
    assert not line.reaches(91.5).interval.bounded


def test_a_level_line_reaches_nothing():
    line = fit_line(X, np.full(8, 91.0))
    assert line.reaches(93.0).x is None


def test_two_points_have_no_scatter_to_judge_by():
    line = fit_line(np.array([90.0, 96.0]), np.array([87.0, 93.0]))
    assert line.at(93.0) == pytest.approx(90.0)
    assert not line.mean_interval(93.0).bounded
    assert math.isnan(line.slope_p())


def test_one_setpoint_is_no_line():
    with pytest.raises(ValueError, match="two different x"):
        fit_line(np.array([93.0, 93.0]), np.array([90.0, 90.1]))


def test_lack_of_fit_by_hand():
    x = np.array([1.0, 1.0, 2.0, 2.0, 3.0, 3.0])
    y = np.array([1.0, 1.2, 3.0, 3.2, 2.0, 2.2])
    line = fit_line(x, y)
    residuals = y - np.array([line.at(value) for value in x])
    # Pure error: three pairs 0.2 apart, 3 x 0.02 with 3 dof. Lack of fit: the rest with 1 dof.
    lack = float(residuals @ residuals) - 0.06
    assert lack_of_fit_p(x, y, residuals, 2) == pytest.approx(stats.f.sf(lack / 0.02, 1, 3), rel=1e-9)


def test_without_repeats_a_bend_cannot_be_judged():
    x = np.arange(5.0)
    assert math.isnan(lack_of_fit_p(x, x, np.zeros(5), 2))
