import numpy as np
import pytest

from benchtemp.shots.segments import coarse, find_rises
from benchtemp.shots.spans import find_spans
from benchtemp.shots.trace import clean


def trace_of(points, rate_hz=4.0, noise_k=0.05):
    """Straight lines between (time, temperature) points."""
    t_s = np.arange(points[0][0], points[-1][0], 1.0 / rate_hz)
    temp = np.interp(t_s, *np.array(points, dtype=float).T)
    return clean(t_s, temp + noise_k * np.random.default_rng(0).standard_normal(len(t_s)))


def test_a_climb_is_found_with_its_height_and_speed():
    (rise,) = find_rises(trace_of([(0, 30), (20, 30), (26, 90), (60, 92)]))
    assert rise.start_s == pytest.approx(20.0, abs=1.5)
    assert rise.height_k == pytest.approx(60.0, abs=3.0)
    assert rise.fastest_k_per_s == pytest.approx(10.0, rel=0.15)


def test_a_pause_does_not_split_a_climb():
    points = [(0, 30), (10, 30), (14, 80), (21, 80), (25, 93), (60, 93)]
    assert len(find_rises(trace_of(points))) == 1


def test_warmth_that_crept_up_before_is_not_the_pump_s():
    (rise,) = find_rises(trace_of([(0, 30), (10, 30), (16, 34), (19, 90), (60, 92)]))
    assert rise.start_s == pytest.approx(16.0, abs=1.0)


def test_a_dip_does_not_split_a_pull():
    points = [(0, 30), (10, 30), (15, 93), (25, 93), (27, 89.5), (29, 93), (50, 93)]
    assert len(find_rises(trace_of(points))) == 1


def test_slow_and_low_climbs_are_nobody_s():
    assert find_rises(trace_of([(0, 85), (20, 85), (60, 93), (100, 93)])) == []
    assert find_rises(trace_of([(0, 90), (20, 90), (22, 93), (60, 93)])) == []


def test_two_pulls_are_two():
    points = [(0, 30), (10, 30), (14, 93), (35, 93), (60, 60), (90, 60), (94, 93), (120, 93)]
    assert len(find_rises(trace_of(points))) == 2


def test_coarse_cells_keep_gaps_empty():
    t_s = np.concatenate((np.arange(0.0, 5.0, 0.1), np.arange(50.0, 55.0, 0.1)))
    times, temps = coarse(clean(t_s, np.full(100, 93.0)))
    assert len(times) == 20
    assert np.all(temps == 93.0)


def test_spans_keep_to_the_marks_and_to_each_other():
    points = [(0, 30), (10, 30), (14, 93), (35, 93), (60, 60), (90, 60), (94, 93), (120, 93), (150, 70)]
    trace = trace_of(points)
    first, second = find_spans(trace, ((9.0, 35.0),))
    assert (first.pump_on_s, first.pump_off_s, first.marked) == (9.0, 35.0, True)
    assert first.rise.start_s == pytest.approx(10.0, abs=1.0)
    assert not second.marked
    assert first.to_s <= second.from_s + 1e-9
    assert find_spans(trace, ((None, 35.0),))[0].rise_s == pytest.approx(10.0, abs=1.0)
    forgotten, following = find_spans(trace, ((9.0, None),))
    assert forgotten.to_s == following.from_s == second.from_s
