"""The time constant, from plunges by keyboard to the probe's file."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchtemp.logbook.probe_file import load_probe
from benchtemp.readings.virtual.pot import PROBES, Bath, VirtualPot
from benchtemp.window.panel import SourceChoice
from benchtemp.window.probes_page.bath_source import virtual_plunge
from benchtemp.window.probes_page.caution_step import Method
from benchtemp.window.probes_page.source_step import virtual_choice


@pytest.fixture
def plunges(pots, monkeypatch):
    def again(seed):
        choice = virtual_plunge(seed)
        choice.source._paced._clock = pots.clock
        pots.pots.append(choice.source)
        return choice

    monkeypatch.setattr("benchtemp.window.probes_page.source_step.virtual_plunge", again)
    pots.to_a_new_probe()
    view = pots.page.plunge
    pots.tab_to(pots.page.details.plunge_button)
    pots.press()
    assert "hot" in view.caution.cautions.text()
    pots.press()
    pots.tab_to(view.source_step.virtual_button)
    pots.press()
    pots.wait(lambda: bool(view.source_step.rows.values))
    pots.go_on(1)
    pots.tab_to(view.source_step.go_on_button)
    pots.press()
    return view


def until_read(pots, view, count):
    for _ in range(20):
        pots.go_on(6)
        if len(view.plunges) == count:
            return
    raise AssertionError("no plunge was read")


def test_two_plunges_give_a_time_constant_in_the_probes_file(pots, plunges, logbook):
    pots.go_on(6)
    assert "Plunge it now" in plunges.state.text()
    until_read(pots, plunges, 1)
    assert "63.2 %" in plunges.result.text()
    pots.wait(plunges.again_button.hasFocus)
    pots.press()
    pots.wait(lambda: pots.page.source.snapshot is not None)
    until_read(pots, plunges, 2)
    assert "2 plunges" in plunges.result.text()
    assert load_probe(logbook, "basket 1").time_constant is None  # nothing before the yes
    pots.tab_to(plunges.save_button)
    pots.press()
    pots.wait(lambda: load_probe(logbook, "basket 1").time_constant is not None, "saving")
    lag = load_probe(logbook, "basket 1").time_constant
    assert lag.tau_s == pytest.approx(PROBES[0].tau_s, abs=3 * lag.uncertainty_s + 0.05)
    pots.wait(lambda: "±" in pots.page.details.lag.text())
    assert pots.page.details.isVisible()


def test_a_plunge_set_aside_saves_nothing(pots, plunges, logbook):
    until_read(pots, plunges, 1)
    pots.tab_to(plunges.drop_button)
    pots.press()
    pots.page.shelf.close_down()
    assert load_probe(logbook, "basket 1").time_constant is None
    assert pots.page.source.choice is None


def test_an_open_probe_is_told_and_can_be_tried_again(pots, plunges):
    probe = PROBES[0].__class__(is_open=True)
    pot = VirtualPot(Bath.POT, [probe], seed=1, clock=pots.clock)
    pots.pots.append(pot)
    pots.page.source.begin(SourceChoice(pot, keep=False))
    plunges._begin_plunge(anew=False)
    pots.wait(lambda: pots.page.source.snapshot is not None)
    for _ in range(4):
        pots.clock.now_s += 6.0
        pot.interrupt()
        seen = len(plunges._gathered.readings)
        pots.wait(lambda seen=seen: len(plunges._gathered.readings) > seen or plunges.trouble.text())
    pots.wait(lambda: "open" in plunges.trouble.text())
    assert plunges.again_button.isEnabled()
    assert not plunges.save_button.isEnabled()


def test_esc_leaves_before_the_plunge_but_not_during_it(pots, plunges):
    pots.press(Qt.Key.Key_Escape)
    assert plunges.isVisible()
    assert plunges.under_way
    pots.tab_to(plunges.drop_button)
    pots.press()
    assert pots.page.details.isVisible()


@pytest.mark.parametrize(
    ("method", "name"),
    [
        (Method.BOIL, "virtual pot of water"),
        (Method.ICE, "virtual ice bath"),
        (Method.PLUNGE, "virtual pot at the boil"),
    ],
)
def test_each_way_has_a_virtual_bath(method, name):
    assert virtual_choice(method).source.name == name
