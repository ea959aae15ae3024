"""A virtual machine operated on the Bench by keys alone, and what its recording then tells."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.ecsv import read_stream
from benchtemp.readings.reading import Reading
from benchtemp.readings.replay import ReplaySource
from benchtemp.readings.virtual import MachineState, Order, VirtualSource, virtual_machines
from benchtemp.readings.virtual.orders import deeds_in
from benchtemp.units import TempUnit
from benchtemp.window.machine_strip import idle_words
from benchtemp.window.panel import SourceChoice
from benchtemp.window.virtual_machine import own_tags

ENTER, SPACE, TAB = Qt.Key.Key_Return, Qt.Key.Key_Space, Qt.Key.Key_Tab


@pytest.fixture
def keys(qtbot, window):
    """Return what types keys where the focus is: letters, or a key."""

    def type_(*what):
        for one in what:
            where = QApplication.focusWidget() or window
            if isinstance(one, str):
                qtbot.keyClicks(where, one)
            else:
                qtbot.keyClick(where, one)

    return type_


def notes(stand):
    return [mark.text for mark in stand.snapshot.marks if mark.text.startswith("machine:")]


def test_a_machine_is_set_flushed_and_pulled_on_by_keys_and_its_recording_tells_it_all(window, stand, keys):
    strip = window.bench.machine_strip
    assert strip.isVisible()
    stand.go_on(2.0)
    assert stand.snapshot.tags["setpoint_degc"] == "95.5"
    keys(Qt.Key.Key_S)
    assert strip.setpoint.hasFocus()
    keys("97", ENTER, TAB)
    assert strip.grind.hasFocus()
    keys("90", ENTER, Qt.Key.Key_X)
    stand.go_on(2.0)
    assert strip.idle_now.text() == "Flushing"
    stand.go_on(16.0)
    keys(SPACE)
    stand.wait(lambda: stand.snapshot.pump_running)
    stand.go_on(6.0)
    assert strip.idle_now.text() == "Pump on"
    keys(Qt.Key.Key_X)
    assert "stop the pump (Space)" in strip.said.text()
    assert strip.said.isVisible()
    stand.go_on(17.0)
    keys(SPACE)
    stand.wait(lambda: not stand.snapshot.pump_running)
    stand.go_on(12.0)
    stand.wait(lambda: len(stand.snapshot.shots) == 1)
    assert not strip.said.isVisible(), "the shot is over"
    assert stand.snapshot.shots[0].tags["grind"] == "90 %"
    assert stand.snapshot.shots[0].tags["flush_s"] == "4"
    assert "flush_s" not in stand.snapshot.tags
    assert notes(stand) == ["machine: setpoint 97 °C", "machine: grind 90 %", "machine: flush 4 s"]
    path = stand.snapshot.recording
    window.session.end()
    assert not strip.isVisible()
    assert not {"setpoint_degc", "grind"} & set(window._choices.now.tags)

    kept = read_stream(path)
    fresh = VirtualSource(virtual_machines()["dual-boiler"], seed=4, clock=stand.clock)
    fresh.open()
    for t_s, what in deeds_in(kept.marks):
        if isinstance(what, Order):
            fresh.order(what, t_s=t_s)
        else:
            fresh.pump(on=bool(what), t_s=t_s)
    stand.clock.now_s += kept.t_s[-1] + 0.05
    found = []
    while items := fresh.read():
        found += [item for item in items if isinstance(item, Reading)]
        fresh.interrupt()
    fresh.close()
    assert [reading.temps_degc[0] for reading in found] == kept.temps_degc[:, 0].tolist()
    assert [reading.weight_g for reading in found] == kept.weight_g.tolist()


def test_an_idle_time_is_waited_for_at_a_fast_clock_and_can_be_stopped(window, stand, keys):
    strip = window.bench.machine_strip
    stand.go_on(1.0)
    keys(Qt.Key.Key_I)
    assert strip.idle.hasFocus()
    keys("3", ENTER)
    for _ in range(50):  # in small steps: a fast clock waits for whoever reads
        stand.go_on(0.03)
    assert strip.wait_button.text() == "Stop"
    assert strip.wait_button.accessibleName() == "Stop waiting"
    assert stand.source.now_s() > 20.0, "its clock runs fast"
    strip.wait_button.setFocus()
    keys(ENTER)
    stand.go_on(1.0)
    assert strip.wait_button.text() == "Wait to"
    assert notes(stand) == ["machine: idle 3 min", "machine: idle over"]


def test_what_cannot_be_is_said_where_it_was_typed(window, stand, keys):
    strip = window.bench.machine_strip
    stand.go_on(1.0)
    keys(Qt.Key.Key_S, "300", ENTER)
    assert "give a number from 60 to 130" in strip.said.text()
    keys(Qt.Key.Key_I, "500", ENTER)
    assert "0.5 to 180" in strip.said.text()
    stand.go_on(0.5)
    assert notes(stand) == []


def test_the_setpoint_is_shown_and_taken_in_the_unit_chosen(window, stand, keys):
    strip = window.bench.machine_strip
    stand.go_on(0.5)
    window.bench.set_unit(TempUnit.DEGF)
    assert strip.setpoint.text() == "203.9"
    assert strip.setpoint_unit.text() == "°F"
    keys(Qt.Key.Key_S, "206", ENTER)
    stand.go_on(1.0)
    assert stand.source.state.setpoint_degc == pytest.approx((206 - 32) / 1.8, abs=0.01)
    assert strip.setpoint.text() == "206"


def test_the_dose_entered_is_the_dose_in_the_basket(window, stand, keys):
    stand.go_on(0.5)
    keys(Qt.Key.Key_D, "16.5", ENTER)
    stand.wait(lambda: stand.snapshot.recipe.dose_g == 16.5)
    stand.go_on(1.0)
    assert stand.source.state.dose_g == 16.5
    assert notes(stand) == ["machine: dose 16.5 g"]
    keys(Qt.Key.Key_D, "70", ENTER)
    stand.wait(lambda: stand.snapshot.recipe.dose_g == 70)
    stand.go_on(0.5)
    assert "give 5 to 30 g" in window.bench.machine_strip.said.text()


def test_every_control_has_a_name_and_a_replay_has_none(window, stand):
    stand.go_on(0.5)
    strip = window.bench.machine_strip
    for control in (
        strip.setpoint,
        strip.grind,
        strip.flush,
        strip.idle,
        strip.wait_button,
        strip.flush_button,
    ):
        assert control.accessibleName()
    path = stand.snapshot.recording
    stand.go_on(2.0)
    window.session.end()
    replay = ReplaySource(read_stream(path), "it")
    window.session.begin(SourceChoice(replay, keep=False))
    assert not strip.isVisible()
    assert own_tags(replay, {"grind": "90 %"}) == {"grind": "90 %"}
    strip.go_to_setpoint()
    strip.flush_now()
    assert not strip.setpoint.hasFocus()


def test_how_long_it_has_been_idle_is_told_in_words():
    state = MachineState(setpoint_degc=93.0, dose_g=18.0)
    assert idle_words(state, 100.0) == "Idle —"
    assert idle_words(MachineState(setpoint_degc=93.0, dose_g=18.0, idle_since_s=40.0), 105.0) == "Idle 1:05"
    assert idle_words(MachineState(setpoint_degc=93.0, dose_g=18.0, waits_until_s=600.0), 65.0) == "Idle 1:05"
