"""A virtual machine that is operated: what orders do, and that a recording alone gives the sitting again."""

from __future__ import annotations

from itertools import pairwise

import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind, Notice, Reading
from benchtemp.readings.source import Keyed
from benchtemp.readings.virtual import Order, OrderKind, Place, VirtualSource, virtual_machines
from benchtemp.readings.virtual.orders import deeds_in

EXCHANGER = virtual_machines()["heat-exchanger"]


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self):
        self.now_s = 1000.0

    def __call__(self):
        return self.now_s


class Sitting:
    """A source and what it gave so far."""

    def __init__(self, machine=EXCHANGER, **how):
        self.clock = Clock()
        self.source = VirtualSource(machine, seed=6, clock=self.clock, **how)
        self.source.open()
        self.items = []

    def go_on(self, seconds, step_s=0.37):
        """Let so much of the source's time pass."""
        until_s = self.source.now_s() + seconds
        while self.source.now_s() < until_s - 1e-9:
            self.clock.now_s += min(step_s, until_s - self.source.now_s())
            self.read()

    def read(self):
        self.source.interrupt()
        while found := self.source.read():
            self.items.extend(found)
            self.source.interrupt()

    def press(self, *, on):
        """Press the pump key, as the bench does: a mark, and the source's pump a moment later."""
        t_s = self.source.key_s()
        self.clock.now_s += 0.13  # the mark is on its way
        self.read()
        self.items.append(Mark(t_s, MarkKind.PUMP_ON if on else MarkKind.PUMP_OFF))
        self.source.pump(on=on, t_s=t_s)
        self.read()

    def tare(self):
        t_s = self.source.key_s()
        assert self.source.tare()
        self.items.append(Mark(t_s, MarkKind.TARE, "by scale"))

    def order(self, kind, value=0.0):
        self.source.order(Order(OrderKind[kind], value))

    @property
    def readings(self):
        return [item for item in self.items if isinstance(item, Reading)]

    @property
    def marks(self):
        return [item for item in self.items if isinstance(item, Mark)]

    @property
    def texts(self):
        return [str(mark) for mark in self.marks]

    def shot(self, seconds=25.0):
        """Pull a shot and let the attendant get ready; return the highest reading of it."""
        self.press(on=True)
        count = len(self.readings)
        self.go_on(seconds)
        self.press(on=False)
        hottest = max(reading.temps_degc[0] for reading in self.readings[count:])
        self.go_on(30.0)
        return hottest


def operate(sitting):
    """Do a bit of everything."""
    sitting.go_on(3.21)
    sitting.order("DOSE", 17.5)
    sitting.order("SETPOINT", 115.5)
    sitting.go_on(2.0)
    sitting.tare()
    sitting.shot(23.4)
    sitting.order("GRIND", 92)
    sitting.order("FLUSH", 3.5)
    sitting.go_on(21.0)
    sitting.shot()
    sitting.order("IDLE", 4)
    sitting.go_on(205.0)
    sitting.order("FLUSH", 2)
    sitting.go_on(1.0)
    sitting.press(on=True)  # in the middle of a flush: the portafilter goes in and a shot begins
    sitting.go_on(9.0)
    sitting.press(on=False)
    sitting.go_on(2.0)
    sitting.order("IDLE", 5)
    sitting.go_on(31.7)
    sitting.order("IDLE")
    sitting.go_on(14.0)


@pytest.fixture(scope="module")
def operated():
    sitting = Sitting()
    operate(sitting)
    return sitting


def again(marks, until_s):
    """Return the readings of a new machine to which only what marks tell was done."""
    sitting = Sitting()
    for t_s, what in deeds_in(marks):
        if isinstance(what, Order):
            sitting.source.order(what, t_s=t_s)
        elif what is None:
            sitting.source.tare(t_s=t_s)
        else:
            sitting.source.pump(on=what, t_s=t_s)
    sitting.go_on(until_s, step_s=7.0)
    return sitting


def test_the_marks_alone_give_the_same_readings_to_the_last_bit(operated):
    assert len(deeds_in(operated.marks)) == 15
    written = [Mark.parse(round(mark.t_s, 4), str(mark)) for mark in operated.marks]
    found = again(written, operated.readings[-1].t_s + 0.05).readings
    assert len(found) == len(operated.readings) > 3000
    assert found == operated.readings


def test_the_marks_come_out_again_as_well(operated):
    found = again(operated.marks, operated.readings[-1].t_s)
    by_itself = {MarkKind.NOTE, MarkKind.SET}
    assert found.marks == [mark for mark in operated.marks if mark.kind in by_itself]


def test_how_often_it_is_read_changes_nothing(operated):
    slow = Sitting()
    slow.go_on = lambda seconds: Sitting.go_on(slow, seconds, step_s=1.9)
    operate(slow)
    assert deeds_in(slow.marks) == deeds_in(operated.marks)
    assert slow.readings == operated.readings[: len(slow.readings)]


def test_a_key_is_waited_for_so_that_the_pump_starts_at_its_mark():
    sitting = Sitting(rate_hz=3.0)
    assert isinstance(sitting.source, Keyed)
    sitting.go_on(1.234)
    t_s = sitting.source.key_s()
    assert t_s == round(t_s, 4)
    sitting.clock.now_s += 2.0
    sitting.read()
    assert sitting.readings[-1].t_s < t_s
    sitting.source.pump(on=True, t_s=t_s)
    sitting.read()
    assert sitting.readings[-1].t_s > t_s + 1.5


def test_a_key_that_is_done_is_not_waited_for_and_others_are():
    sitting = Sitting()
    first_s = sitting.source.key_s()
    sitting.go_on(0.5)
    second_s = sitting.source.key_s()
    sitting.source.key_done(first_s)
    sitting.go_on(2.0)
    assert first_s < second_s
    assert all(reading.t_s <= second_s for reading in sitting.readings)
    sitting.source.key_done(second_s)
    sitting.go_on(1.0)
    assert sitting.readings[-1].t_s > second_s + 2.0


def test_a_key_that_does_nothing_is_not_waited_for_long(monkeypatch):
    sitting = Sitting()
    monkeypatch.setattr("benchtemp.readings.virtual.source._KEPT_FOR_KEY_S", 0.0)
    sitting.source.key_s()
    sitting.go_on(2.0)
    assert sitting.readings[-1].t_s == pytest.approx(2.0, abs=0.11)


# What orders do


def test_a_higher_setpoint_brews_hotter_and_is_told_in_note_and_tag():
    sitting = Sitting(virtual_machines()["dual-boiler"])
    before = sitting.shot()
    sitting.order("SETPOINT", 98.0)
    sitting.go_on(240.0, step_s=5.0)
    assert sitting.shot() > before + 1.5
    assert sitting.texts[2:4] == ["note machine: setpoint 98 °C", "set tag.setpoint_degc=98"]
    assert sitting.source.state.setpoint_degc == 98.0


def test_a_display_that_shows_something_else_is_what_is_set():
    sitting = Sitting(virtual_machines()["dual-boiler"], display_above_k=-2.5)
    assert sitting.source.state.setpoint_degc == 93.0
    sitting.order("SETPOINT", 94.0)
    sitting.go_on(0.5)
    assert sitting.source.state.setpoint_degc == 94.0
    assert sitting.source._opened.machine.setpoint_degc == 96.5


def test_a_finer_grind_fills_the_cup_more_slowly_and_a_coarser_one_faster():
    def cup_g(percent):
        sitting = Sitting()
        sitting.order("GRIND", percent)
        sitting.go_on(1.0)
        sitting.press(on=True)
        sitting.go_on(25.0)
        return sitting.readings[-1].weight_g

    assert cup_g(85) < 0.8 * cup_g(100) < 0.8 * 0.8 * cup_g(120)


def test_a_dose_is_weighed_in_anew_while_the_bed_is_dry_and_not_during_a_shot():
    sitting = Sitting()
    sitting.order("DOSE", 14)
    sitting.go_on(0.5)
    basket = sitting.source._opened.machine.basket
    assert basket.dose_kg == 0.014
    sitting.press(on=True)
    sitting.go_on(8.0)
    sitting.order("DOSE", 20)
    sitting.go_on(1.0)
    assert basket.dose_kg == 0.014
    sitting.press(on=False)
    sitting.go_on(30.0)
    assert basket.dose_kg == 0.020


def test_a_flush_cools_the_exchanger_s_first_water_and_counts_for_the_next_shot_only():
    def hottest(*, flushed):
        sitting = Sitting()
        sitting.go_on(1.0)
        if flushed:
            sitting.order("FLUSH", 6)
            sitting.go_on(25.0)
            sitting.order("FLUSH", 2)
            sitting.go_on(20.0)
        return sitting, sitting.shot()

    (plain, unflushed), (sitting, flushed) = hottest(flushed=False), hottest(flushed=True)
    assert flushed < unflushed - 1.0
    tags = [text for text in sitting.texts if "tag" in text]
    assert tags == ["set tag.flush_s=6", "set tag.flush_s=8", "set tag.flush_s="]
    assert not any("tag" in text for text in plain.texts)


def test_an_idle_time_runs_fast_and_ends_with_a_fresh_dose_in_a_warm_basket():
    sitting = Sitting()
    sitting.shot()
    idle_since_s = sitting.source.state.idle_since_s
    began_s = sitting.clock.now_s
    sitting.order("IDLE", 10)
    assert sitting.source.hurrying
    empty = False
    while sitting.source.hurrying:
        sitting.clock.now_s += 0.02
        sitting.read()
        empty |= sitting.source._opened.machine.basket.dose_kg == 0.0
    assert sitting.clock.now_s - began_s < 10.0
    assert empty, "it waits without coffee in it"
    sitting.go_on(0.5)
    assert sitting.source.now_s() == pytest.approx(idle_since_s + 600.5, abs=1.0)
    assert sitting.source._opened.machine.basket.dose_kg == 0.018
    assert "idle time is over" in [item.text for item in sitting.items if isinstance(item, Notice)][-1]
    times = [reading.t_s for reading in sitting.readings]
    assert times == sorted(times)
    assert max(b - a for a, b in pairwise(times)) == pytest.approx(0.1, abs=1e-6)


def test_the_pump_key_ends_an_idle_time():
    sitting = Sitting()
    sitting.order("IDLE", 30)
    for _ in range(20):
        sitting.clock.now_s += 0.02
        sitting.read()
    sitting.press(on=True)
    assert not sitting.source.hurrying
    sitting.go_on(20.0)
    assert sitting.source.state.waits_until_s is None
    assert sitting.source._opened.machine.basket.dose_kg == 0.018
    assert sitting.readings[-1].temps_degc[0] > 88.0


# What makes no sense


def test_what_makes_no_sense_is_refused_in_a_sentence_and_not_noted():
    sitting = Sitting()
    with pytest.raises(BadInput, match="60 to 130"):
        sitting.order("SETPOINT", 300)
    with pytest.raises(BadInput, match="not waiting"):
        sitting.order("IDLE")
    sitting.press(on=True)
    sitting.go_on(2.0)
    with pytest.raises(BadInput, match="stop the pump"):
        sitting.order("FLUSH", 4)
    with pytest.raises(BadInput, match="Water runs"):
        sitting.order("IDLE", 10)
    sitting.press(on=False)
    sitting.go_on(90.0)
    with pytest.raises(BadInput, match=r"idle for 1\.5 min already"):
        sitting.order("IDLE", 1)
    sitting.order("FLUSH", 10)
    sitting.go_on(1.0)
    with pytest.raises(BadInput, match="still running"):
        sitting.order("FLUSH", 4)
    assert [text for text in sitting.texts if text.startswith("note")] == ["note machine: flush 10 s"]


def test_an_order_that_came_too_late_to_make_sense_is_left_undone_and_said():
    sitting = Sitting()
    sitting.source.order(Order(OrderKind.FLUSH, 4.0), t_s=5.0)
    sitting.source.pump(on=True, t_s=4.0)
    sitting.go_on(12.0)
    assert sitting.texts == []
    assert "shot is under way" in [item.text for item in sitting.items if isinstance(item, Notice)][-1]


def test_without_an_attendant_a_flush_leaves_the_portafilter_out():
    sitting = Sitting(attendant=None, channels=[Place.BASKET, Place.INLET])
    sitting.order("FLUSH", 3)
    sitting.go_on(40.0)
    assert not sitting.source._opened.machine.basket.locked
    assert not sitting.source._opened.machine.pump_unit.on
