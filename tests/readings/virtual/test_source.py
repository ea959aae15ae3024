"""The virtual machine as a live source, on a clock that the test moves."""

from __future__ import annotations

import threading
import time
from itertools import pairwise
from math import isnan

import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind, Notice, NoticeKind, Reading
from benchtemp.readings.source import Pumped, Tared
from benchtemp.readings.virtual import Attendant, Place, VirtualSource, virtual_machines

DUAL = virtual_machines()["dual-boiler"]


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def opened(parameters=DUAL, **options) -> tuple[VirtualSource, Clock]:
    clock = Clock()
    source = VirtualSource(parameters, clock=clock, **options)
    source.open()
    return source, clock


def run(source: VirtualSource, clock: Clock, until_s: float) -> list:
    """Move the clock and read everything that is due."""
    clock.now = 1000.0 + until_s
    items = []
    while True:
        source.interrupt()
        found = source.read()
        if not found:
            return items
        items.extend(found)


def readings(items) -> list[Reading]:
    return [item for item in items if isinstance(item, Reading)]


def test_readings_come_at_the_rate_on_the_sources_own_clock():
    source, clock = opened(rate_hz=4.0)
    found = readings(run(source, clock, 2.0))
    assert [reading.t_s for reading in found] == [0.25 * n for n in range(9)]
    assert source.now_s() == pytest.approx(2.0)
    assert source.channels == ("T1",)
    assert all(len(reading.temps_degc) == 1 for reading in found)


def test_speed_makes_its_clock_run_faster():
    source, clock = opened(speed=16.0)
    clock.now += 0.5
    assert source.now_s() == pytest.approx(8.0)


def test_it_is_pumped_and_tared_and_says_what_it_is():
    source, _ = opened(seed=7)
    assert isinstance(source, Pumped)
    assert isinstance(source, Tared)
    assert source.has_weight
    assert source.name == DUAL.name
    assert source.details["seed"] == 7
    assert source.details["kind"] == "virtual machine"


def test_the_pump_key_pulls_a_shot_with_a_realistic_yield():
    source, clock = opened()
    before = readings(run(source, clock, 5.0))
    source.pump(on=True, t_s=5.0)
    run(source, clock, 30.0)
    source.pump(on=False, t_s=30.0)
    found = readings(run(source, clock, 37.0))
    assert before[-1].temps_degc[0] < 75.0
    assert before[-1].weight_g == pytest.approx(0.0, abs=0.2)
    settled = [reading.temps_degc[0] for reading in found if 20.0 < reading.t_s < 30.0]
    assert found == sorted(found, key=lambda reading: reading.t_s)
    assert not settled
    assert 32.0 < found[-1].weight_g < 42.0
    assert 88.0 < found[0].temps_degc[0] < 97.0


def test_a_press_between_two_readings_acts_at_its_own_time():
    def rises_s(press_s: float) -> float:
        source, clock = opened(scale=None)
        source.pump(on=True, t_s=press_s)
        run(source, clock, 12.0)
        return source.true_water_degc

    # While it climbs, half a period makes a difference that no later reading would show otherwise.
    early, middle, late = rises_s(5.0), rises_s(5.05), rises_s(5.1)
    assert early > middle > late
    assert early - middle == pytest.approx(middle - late, rel=0.25)


def test_a_press_that_comes_late_acts_at_once():
    source, clock = opened()
    run(source, clock, 10.0)
    source.pump(on=True, t_s=2.0)
    found = readings(run(source, clock, 22.0))
    assert found[-1].temps_degc[0] > 88.0
    assert found[0].t_s == pytest.approx(10.1)


def test_the_same_seed_and_presses_give_the_same_readings():
    def recorded(seed: int) -> list:
        source, clock = opened(seed=seed)
        source.pump(on=True, t_s=3.033)
        source.pump(on=False, t_s=24.5)
        return run(source, clock, 40.0)

    assert recorded(5) == recorded(5)
    assert recorded(5) != recorded(6)


def test_how_often_it_is_read_changes_nothing():
    at_once, step_by_step = opened(), opened()
    for source, _ in (at_once, step_by_step):
        source.pump(on=True, t_s=3.033)
    found = run(*at_once, 20.0)
    pieces = []
    for tick in range(1, 134):
        pieces.extend(run(*step_by_step, tick * 0.15))
    assert pieces == [item for item in found if item.t_s <= 19.95 + 1e-9]


def test_the_attendant_knocks_out_and_locks_in_so_that_the_next_shot_can_follow():
    source, clock = opened(attendant=Attendant(dose_g=18.0, rest_s=8.0, out_s=10.0))
    first = run(source, clock, 1.0)
    assert [item.kind for item in first if isinstance(item, Notice)] == [NoticeKind.READING]
    source.pump(on=True, t_s=2.0)
    source.pump(on=False, t_s=26.0)
    items = run(source, clock, 50.0)
    notices = [(round(item.t_s, 3), item.text) for item in items if isinstance(item, Notice)]
    assert [t_s for t_s, _ in notices] == [34.0, 44.0]
    assert "knocked out" in notices[0][1]
    assert "locked in" in notices[1][1]
    weights = {reading.t_s: reading.weight_g for reading in readings(items)}
    assert weights[33.0] > 30.0
    assert weights[44.5] == pytest.approx(0.0, abs=0.3)
    source.pump(on=True, t_s=55.0)
    assert readings(run(source, clock, 75.0))[-1].temps_degc[0] > 88.0


def test_a_press_while_the_portafilter_is_out_locks_it_in_first():
    source, clock = opened()
    source.pump(on=True, t_s=1.0)
    source.pump(on=False, t_s=24.0)
    source.pump(on=True, t_s=36.0)
    assert readings(run(source, clock, 56.0))[-1].weight_g > 10.0


def test_without_an_attendant_the_operator_handles_the_portafilter():
    source, clock = opened(attendant=None)
    start_degc = readings(run(source, clock, 1.0))[-1].temps_degc[0]
    source.knock_out(t_s=1.0)
    source.lock_in(dose_g=18.0, t_s=20.0)
    source.pump(on=True, t_s=32.0)
    found = readings(run(source, clock, 52.0))
    assert min(reading.temps_degc[0] for reading in found) < start_degc - 30.0
    assert found[-1].temps_degc[0] > 88.0
    assert not [item for item in found if isinstance(item, Notice)]


def test_a_flush_runs_through_the_empty_group():
    source, clock = opened(virtual_machines()["heat-exchanger"], channels=[Place.BASKET, Place.INLET])
    inlet_degc = readings(run(source, clock, 1.0))[-1].temps_degc[1]
    source.flush(on=True, t_s=1.0)
    source.flush(on=False, t_s=7.0)
    found = readings(run(source, clock, 8.0))
    assert found[-1].temps_degc[1] < inlet_degc - 8.0
    assert max(reading.temps_degc[0] for reading in found) < 95.0
    # The attendant comes back with a fresh portafilter.
    assert any(isinstance(item, Notice) for item in run(source, clock, 20.0))


def test_an_unplugged_cable_is_a_gap_with_its_mark_and_notices():
    source, clock = opened()
    source.unplug(2.0, t_s=3.0)
    items = run(source, clock, 8.0)
    times = [reading.t_s for reading in readings(items)]
    assert not [t_s for t_s in times if 3.0 <= t_s < 5.0 - 1e-9]
    assert {0.0, 2.9, 5.0, 8.0} <= set(times)
    assert [item for item in items if isinstance(item, Mark)] == [Mark(3.0, MarkKind.GAP, "unplugged")]
    kinds = [item.kind for item in items if isinstance(item, Notice)]
    assert kinds[-2:] == [NoticeKind.LOST, NoticeKind.READING]


def test_tare_sets_the_scale_to_zero_and_says_so_only_with_a_scale():
    source, clock = opened()
    source.pump(on=True, t_s=0.5)
    shown_g = readings(run(source, clock, 20.0))[-1].weight_g
    assert source.tare()
    after_g = readings(run(source, clock, 20.1))[-1].weight_g
    assert shown_g > 10.0
    assert after_g == pytest.approx(0.0, abs=1.0)
    bare, bare_clock = opened(scale=None)
    assert not bare.tare()
    assert isnan(readings(run(bare, bare_clock, 0.0))[0].weight_g)


def test_setpoint_and_steam_are_checked_where_they_are_ordered():
    source, clock = opened(channels=[Place.BASKET, Place.BOILER])
    before_degc = readings(run(source, clock, 1.0))[-1].temps_degc[1]
    source.set_setpoint(99.0, t_s=1.0)
    assert readings(run(source, clock, 61.0))[-1].temps_degc[1] > before_degc + 2.0
    with pytest.raises(BadInput, match="20 to 140"):
        source.set_setpoint(500.0, t_s=61.0)
    with pytest.raises(BadInput, match="no steam valve"):
        opened(virtual_machines()["thermoblock"])[0].steam(on=True, t_s=0.0)


def test_a_cold_start_is_cold():
    source, clock = opened(warm=False, channels=[Place.BASKET, Place.BOILER])
    found = readings(run(source, clock, 60.0))
    assert found[0].temps_degc[1] < 40.0
    assert found[-1].temps_degc[1] > found[0].temps_degc[1] + 10.0


def test_values_are_whole_steps_of_the_interface():
    source, clock = opened(virtual_machines()["four-probes"])
    for reading in readings(run(source, clock, 3.0)):
        assert len(reading.temps_degc) == 4
        assert all((temp / 0.0625).is_integer() for temp in reading.temps_degc)


def test_a_long_stall_is_caught_up_in_pieces_with_true_times():
    source, clock = opened()
    clock.now += 120.0
    first = source.read()
    assert 400 <= len(first) <= 600
    rest = readings(run(source, clock, 120.0))
    assert rest[-1].t_s == 120.0
    assert [round(b.t_s - a.t_s, 6) for a, b in pairwise(rest)] == [0.1] * (len(rest) - 1)


def test_read_waits_briefly_and_interrupt_ends_the_wait():
    source, _ = opened()
    source.read()
    waiter = threading.Timer(0.02, source.interrupt)
    waiter.start()
    began_s = time.monotonic()
    assert list(source.read()) == []
    assert time.monotonic() - began_s < 0.15
    waiter.join()


def test_after_closing_nothing_comes_and_it_can_be_opened_again():
    source, clock = opened(seed=2)
    first = run(source, clock, 1.0)
    source.close()
    source.close()
    assert list(source.read()) == []
    assert source.now_s() == 0.0
    clock.now = 1000.0
    source.open()
    assert run(source, clock, 1.0) == first


def test_on_the_real_clock_a_reading_takes_a_small_part_of_its_period():
    source = VirtualSource(DUAL, rate_hz=100.0, speed=4.0)
    source.open()
    deadline_s = time.monotonic() + 2.0
    found: list[Reading] = []
    while len(found) < 20 and time.monotonic() < deadline_s:
        found.extend(readings(source.read()))
    source.close()
    assert [reading.t_s for reading in found[:20]] == [round(n / 100, 6) for n in range(20)]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"rate_hz": 0.0}, "readings a second"),
        ({"rate_hz": float("nan")}, "readings a second"),
        ({"speed": 1000.0}, "speed of 1000"),
        ({"channels": []}, "channels cannot be"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(options, said):
    with pytest.raises(BadInput, match=said):
        VirtualSource(DUAL, **options)


def test_before_opening_there_is_no_water_to_speak_of():
    with pytest.raises(BadInput, match="not open yet"):
        _ = VirtualSource(DUAL).true_water_degc
