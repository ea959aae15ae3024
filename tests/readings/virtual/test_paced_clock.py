"""The clock of a virtual source: it hurries, waits for its reader, and never goes back."""

from __future__ import annotations

import pytest

from benchtemp.readings.virtual.paced_clock import HURRY_MAX, PacedClock


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self):
        self.now_s = 50.0

    def __call__(self):
        return self.now_s


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def paced(clock):
    made = PacedClock(10.0, 2.0, 64.0, clock)
    made.start()
    return made


def test_it_hurries_to_a_time_and_goes_on_as_before(paced, clock):
    clock.now_s += 1.0
    paced.have_read(1e9)
    paced.hurry(602.0)
    assert paced.hurrying
    seen_s = [paced.now_s()]
    while paced.hurrying:
        clock.now_s += 0.5
        seen_s.append(paced.now_s())
    assert seen_s == sorted(seen_s)
    assert 5.0 < len(seen_s) / 2.0 < 7.5, "some six seconds"
    over_s = paced.now_s()
    assert 602.0 <= over_s < 603.0 + 1e-9
    clock.now_s += 3.0
    assert paced.now_s() == pytest.approx(over_s + 6.0)


def test_a_hurrying_clock_waits_for_whoever_reads(paced, clock):
    paced.hurry(6000.0)
    clock.now_s += 60.0
    assert paced.now_s() <= 0.05 * HURRY_MAX
    stands_s = paced.now_s()
    clock.now_s += 60.0
    assert paced.now_s() == stands_s
    paced.have_read(stands_s)
    clock.now_s += 0.01
    assert paced.now_s() > stands_s


def test_hurrying_can_be_stopped_anywhere(paced, clock):
    paced.have_read(1e9)
    paced.hurry(600.0)
    clock.now_s += 1.0
    paced.stop_hurrying()
    there_s = paced.now_s()
    assert 50.0 < there_s < 150.0
    clock.now_s += 1.0
    assert paced.now_s() == pytest.approx(there_s + 2.0)
    paced.stop_hurrying()
    assert paced.now_s() == pytest.approx(there_s + 2.0)


def test_a_time_that_is_past_is_no_reason_to_hurry(paced, clock):
    clock.now_s += 10.0
    paced.hurry(5.0)
    assert not paced.hurrying
    paced.stop()
    assert paced.now_s() == 0.0
