from math import inf, nan

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind, Notice, NoticeKind, Reading, Stream
from benchtemp.readings.replay import ReplaySource


class Clock:
    def __init__(self):
        self.now_s = 100.0

    def __call__(self):
        return self.now_s


def stream(times, marks=()):
    return Stream(
        channels=("T1",),
        t_s=np.array(times, dtype=float),
        temps_degc=np.arange(len(times), dtype=float).reshape(-1, 1) + 20,
        marks=tuple(mark for _, mark in marks),
        mark_rows=tuple(row for row, _ in marks),
    )


def opened(source):
    source.open()
    return source


def times(items):
    return [item.t_s for item in items]


def test_gives_everything_in_recorded_order_as_fast_as_it_goes():
    late_mark = Mark(1.4, MarkKind.PUMP_ON)
    source = opened(ReplaySource(stream([0, 1, 2, 3], [(2, late_mark)]), "a", speed=inf))
    items = list(source.read())
    assert times(items) == [0, 1, 1.4, 2, 3]
    assert items[2] is late_mark
    assert source.read()[0].kind is NoticeKind.FINISHED


def test_mark_recorded_after_a_later_reading_stays_after_it():
    source = opened(ReplaySource(stream([0, 1, 2], [(2, Mark(0.5, MarkKind.NOTE, "late"))]), "a", speed=inf))
    assert times(source.read()) == [0, 1, 0.5, 2]


def test_keeps_the_recorded_time_at_any_speed():
    clock = Clock()
    source = opened(ReplaySource(stream([10, 11, 12, 13]), "a", speed=2.0, clock=clock))
    assert times(source.read()) == [10]
    clock.now_s += 0.5
    assert times(source.read()) == [11]
    clock.now_s += 0.75
    assert source.now_s() == pytest.approx(12.5)
    assert times(source.read()) == [12]
    source.speed = 0.25
    clock.now_s += 2.0
    assert source.now_s() == pytest.approx(13.0)
    assert times(source.read()) == [13]


def test_pause_step_and_play():
    clock = Clock()
    source = opened(ReplaySource(stream([0, 1, 2, 3]), "a", clock=clock))
    assert times(source.read()) == [0]
    source.pause()
    clock.now_s += 100
    source.interrupt()
    assert list(source.read()) == []
    source.step()
    assert times(source.read()) == [1]
    source.step()
    assert times(source.read()) == [2]
    source.play()
    clock.now_s += 1
    assert times(source.read()) == [3]


def test_seeking_back_begins_anew_and_says_so():
    clock = Clock()
    source = opened(ReplaySource(stream([0, 1, 2, 3]), "a", speed=1.0, clock=clock))
    clock.now_s += 2.5
    assert times(source.read()) == [0, 1, 2]
    source.seek(1.5)
    rewound = source.read()
    assert [type(item) for item in rewound] == [Notice]
    assert rewound[0].kind is NoticeKind.REWOUND
    assert times(source.read()) == [0, 1]
    source.seek(99)
    assert times(source.read()) == [2, 3]


def test_a_scales_instant_comes_back_without_temperatures():
    weighed = Stream(
        channels=("T1",),
        t_s=np.array([0.0, 0.1, 0.2]),
        temps_degc=np.array([[20.0], [nan], [nan]]),
        weight_g=np.array([nan, 3.5, nan]),
    )
    reading, weight, open_probe = opened(ReplaySource(weighed, "a", speed=inf)).read()
    assert isinstance(weight, Reading)
    assert reading.temps_degc == (20.0,)
    assert weight.temps_degc == ()
    assert weight.weight_g == 3.5
    assert len(open_probe.temps_degc) == 1


@pytest.mark.parametrize("speed", [0.0, -1.0, 0.1, 65.0, nan])
def test_refuses_speeds_out_of_reach(speed):
    with pytest.raises(BadInput, match="choose"):
        ReplaySource(stream([0, 1]), "a", speed=speed)


def test_refuses_a_stream_without_readings():
    with pytest.raises(BadInput, match="nothing to replay"):
        ReplaySource(stream([]), "empty.ecsv")
