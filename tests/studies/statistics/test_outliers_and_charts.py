import numpy as np
from scipy.stats import norm

from benchtemp.studies.statistics.control_chart import individuals_chart
from benchtemp.studies.statistics.outliers import outliers
from benchtemp.studies.statistics.tolerance import tolerance_factor, tolerance_interval


def test_a_value_far_off_is_found_and_two_do_not_hide_each_other(rng):
    values = rng.normal(93, 0.2, 20)
    values[[4, 11]] = (95.5, 95.7)
    assert set(outliers(values)) == {4, 11}


def test_samples_without_outliers_rarely_show_one(rng):
    shown = sum(bool(outliers(rng.normal(0, 1, 12))) for _ in range(1000))
    assert 20 <= shown <= 85  # 5 % expected


def test_few_or_equal_values_have_no_outliers():
    assert outliers(np.array([1.0, 1.0, 9.0])) == ()
    assert outliers(np.full(10, 93.0)) == ()


def test_a_jump_is_beyond_the_limits():
    values = np.array([93.0, 93.1, 92.9, 93.0, 93.1, 95.0, 93.0, 92.9, 93.1, 93.0])
    chart = individuals_chart(values)
    assert chart.beyond == (5,)
    assert chart.jumps == (5, 6)
    assert not chart.steady


def test_eight_on_one_side_are_a_run():
    values = np.array([93.2, 93.1, 93.2, 93.3, 93.1, 93.2, 93.1, 93.2, 92.7, 92.8, 92.7, 92.8, 92.6])
    chart = individuals_chart(values)
    assert chart.runs == ((0, 7),)


def test_alternating_values_are_no_run():
    assert individuals_chart(np.array([93.0, 93.2] * 6)).runs == ()


def test_tolerance_grows_with_fewer_shots_and_higher_shares():
    assert tolerance_factor(5) > tolerance_factor(10) > tolerance_factor(100) > 1.96
    assert tolerance_factor(10, 0.99) > tolerance_factor(10, 0.95)
    assert not tolerance_interval(np.array([93.0])).bounded


def test_tolerance_interval_holds_the_share_as_often_as_it_says(rng):
    held = 0
    for _ in range(800):
        interval = tolerance_interval(rng.normal(0, 1, 8), 0.9, 0.95)
        held += norm.cdf(interval.high) - norm.cdf(interval.low) >= 0.9
    assert 0.93 <= held / 800 <= 0.97
