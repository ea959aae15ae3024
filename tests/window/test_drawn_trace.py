from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.testing import assert_array_equal

from benchtemp.bench.trace import TraceBuffer, TraceView
from benchtemp.window.plot.drawn_trace import DrawnTrace, with_gaps

NAN = float("nan")


def view(t_s, temps, weight_g=None):
    t_s = np.array(t_s, dtype=float)
    weights = np.full(len(t_s), NAN) if weight_g is None else np.array(weight_g)
    return TraceView(t_s, np.array(temps, dtype=float).reshape(len(t_s), -1), weights)


def test_a_pause_is_drawn_as_a_gap():
    drawn = DrawnTrace()
    drawn.take(view([0.0, 0.1, 0.2, 5.0, 5.1], [90, 90, 90, 91, 91]), 0.1)
    t_s, temps = drawn.between(-1.0, 10.0)
    assert len(t_s) == 6
    assert_array_equal(np.isnan(temps[:, 0]), [False, False, False, True, False, False])
    assert 0.2 < t_s[3] < 5.0


def test_a_gap_across_two_batches_is_seen():
    drawn = DrawnTrace()
    whole = view([0.0, 0.1, 0.2, 5.0], [90, 90, 90, 91])
    first = TraceView(whole.t_s[:3], whole.temps_degc[:3], whole.weight_g[:3])
    assert drawn.take(first, 0.1)
    assert drawn.take(whole, 0.1)
    assert np.isnan(drawn.between(0, 10)[1]).sum() == 1


def test_an_instant_of_the_scale_alone_breaks_no_line():
    t_s, temps = with_gaps(
        np.array([0.0, 0.05, 0.1]), np.array([[90.0], [NAN], [90.1]]), np.array([NAN, 12.0, NAN]), None, 0.5
    )
    assert_array_equal(t_s, [0.0, 0.1])
    assert_array_equal(temps[:, 0], [90.0, 90.1])


def test_an_open_probe_breaks_the_line():
    _, temps = with_gaps(
        np.array([0.0, 0.1, 0.2]), np.array([[90.0], [NAN], [90.1]]), np.full(3, NAN), None, 0.5
    )
    assert_array_equal(np.isnan(temps[:, 0]), [False, True, False])


def test_nothing_new_is_said_to_be_nothing_new():
    drawn = DrawnTrace()
    trace = view([0.0, 0.1], [90, 90])
    assert drawn.take(trace, 0.1)
    assert not drawn.take(trace, 0.1)


def test_a_replay_moved_back_is_drawn_from_its_beginning():
    drawn = DrawnTrace()
    drawn.take(view([0.0, 0.1, 0.2], [90, 91, 92]), 0.1)
    drawn.take(view([0.0], [50]), 0.1)
    assert_array_equal(drawn.between(0, 10)[1][:, 0], [50])


def test_a_replay_moved_back_and_far_on_between_two_looks_is_noticed():
    drawn = DrawnTrace()
    drawn.take(view([0.0, 0.1, 0.2], [90, 91, 92]), 0.1)
    drawn.take(view([0.05, 0.15, 0.25, 0.35], [50, 51, 52, 53]), 0.1)
    assert_array_equal(drawn.between(0, 10)[1][:, 0], [50, 51, 52, 53])


def test_rows_let_go_of_by_the_bench_do_not_disturb():
    buffer = TraceBuffer(1, rows_max=64)
    drawn = DrawnTrace()
    for row in range(300):
        buffer.append(row * 0.1, (90.0,), (90.0,), NAN)
        if row % 7 == 0:
            drawn.take(buffer.view(), 0.1)
    drawn.take(buffer.view(), 0.1)
    assert len(drawn.t_s) == 300
    assert not np.isnan(drawn.between(0, 100)[1]).any()


def test_memory_is_bounded():
    drawn = DrawnTrace(rows_max=1000)
    trace = view(np.arange(5000) * 0.1, np.full(5000, 90.0))
    for end in range(100, 5001, 100):
        drawn.take(TraceView(trace.t_s[:end], trace.temps_degc[:end], trace.weight_g[:end]), 0.1)
    assert len(drawn.t_s) <= 2100
    assert drawn.t_s[-1] == trace.t_s[-1]


def test_what_was_given_out_stays_true():
    drawn = DrawnTrace()
    first = view([0.0, 0.1], [90, 91])
    drawn.take(first, 0.1)
    t_s, temps = drawn.between(0, 10)
    before = t_s.copy(), temps.copy()
    rows = 6000
    drawn.take(
        replace(
            first, t_s=np.arange(rows) * 0.1, temps_degc=np.full((rows, 1), 95.0), weight_g=np.full(rows, NAN)
        ),
        0.1,
    )
    assert_array_equal(t_s, before[0])
    assert_array_equal(temps, before[1])


def test_a_stretch_has_one_row_beyond_on_either_side():
    drawn = DrawnTrace()
    drawn.take(view(np.arange(10) * 1.0, np.arange(10)), 1.0)
    assert_array_equal(drawn.between(3.5, 5.5)[0], [3, 4, 5, 6])
