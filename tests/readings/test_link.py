from __future__ import annotations

import pytest

from benchtemp.readings.link import BackOff, ClockWatch


def test_pauses_double_up_to_the_longest():
    assert [BackOff().pause_s(failures) for failures in range(7)] == [0.5, 1.0, 2.0, 4.0, 5.0, 5.0, 5.0]
    assert BackOff().pause_s(100_000) == 5.0


def test_a_clock_that_runs_on_is_no_jump():
    watch = ClockWatch(10.0, 5000.0)
    for second in range(1, 4000):  # corrected by 500 ppm, as a time service may
        assert watch.jump_s(10.0 + second, 5000.0 + second * 1.0005) == 0.0


@pytest.mark.parametrize("jump_s", [3600.0, -7200.0, 1.5])
def test_sleep_and_setting_the_clock_show_as_jumps_once(jump_s):
    watch = ClockWatch(0.0, 5000.0)
    assert watch.jump_s(0.5, 5000.5) == 0.0
    assert watch.jump_s(1.5, 5001.5 + jump_s) == pytest.approx(jump_s)
    assert watch.jump_s(3.0, 5003.0 + jump_s) == 0.0
