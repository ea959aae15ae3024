"""Probes with a history, on disk and in memory."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.probe_file import save_probe
from benchtemp.places import default_logbook_dir
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.probe import Probe
from benchtemp.probes.response import TimeConstant
from benchtemp.readings.virtual.pot import POT_BOILS_DEGC, PROBES, Bath, VirtualPot
from benchtemp.units import TempUnit
from benchtemp.window.choices import Choices
from benchtemp.window.panel import SourceChoice
from benchtemp.window.probes_page.page import ProbesPage
from benchtemp.window.probes_page.shelf import ProbeShelf
from benchtemp.window.theme import LIGHT

DEADLINE_S = 20.0


@pytest.fixture
def make_probe():
    """Return a maker of probes: boiled so many days ago, with such errors."""

    def make(name="basket 1", checks=((300, 0.20), (200, 0.24), (100, 0.31), (12, 0.36)), **more):
        probe = Probe(name=name, **more)
        for days, error_k in checks:
            point = CheckPoint(
                reported_degc=99.9 + error_k,
                reported_uncertainty_k=0.02,
                reported_dof=20.0,
                reference_degc=99.9,
                reference_uncertainty_k=0.06,
            )
            moment = (datetime.now(UTC) - timedelta(days=days)).isoformat(timespec="seconds")
            probe = probe.with_check(
                make_check([point], probe=name, checked=moment, operator="Ada", limit_k=0.5)
            )
        return probe

    return make


@pytest.fixture
def tau():
    return TimeConstant(
        tau_s=1.21,
        uncertainty_s=0.02,
        crossing_s=1.22,
        plunge_s=10.0,
        start_degc=22.0,
        end_degc=99.0,
        scatter_k=0.1,
        measured="2026-11-02T09:30:00+01:00",
    )


@pytest.fixture
def logbook():
    return Logbook(default_logbook_dir())


@pytest.fixture
def keep(logbook):
    """Return a function that writes a probe's file into the user's logbook."""
    return lambda probe: save_probe(logbook, probe)


class Clock:
    def __init__(self):
        self.now_s = 1000.0

    def __call__(self):
        return self.now_s


class Pots:
    """The virtual baths on a clock of the test's own; keys go to whatever has the focus."""

    def __init__(self, qtbot, window, monkeypatch):
        self.qtbot, self.window = qtbot, window
        self.clock = Clock()
        self.pots = []
        monkeypatch.setattr("benchtemp.window.probes_page.source_step.virtual_bath", self.bath)

    def bath(self, bath, _seed):
        self.pots.append(VirtualPot(bath, PROBES, seed=7, clock=self.clock))
        return SourceChoice(self.pots[-1], keep=False)

    @property
    def page(self):
        return self.window.probes

    def press(self, key=Qt.Key.Key_Return, modifier=Qt.KeyboardModifier.NoModifier):
        QApplication.processEvents()
        self.qtbot.keyClick(QApplication.focusWidget() or self.window, key, modifier)

    def type(self, text):
        self.qtbot.keyClicks(QApplication.focusWidget(), text)

    def tab_to(self, widget):
        for _ in range(60):
            if widget.hasFocus():
                return
            self.press(Qt.Key.Key_Tab)
        raise AssertionError(f"Tab does not reach {widget}")

    def wait(self, condition, what="it"):
        deadline_s = time.monotonic() + DEADLINE_S
        while not condition():
            QApplication.processEvents()
            for session in (self.page.source._own, self.window.session):
                if session is not None:
                    session.look()
            assert time.monotonic() < deadline_s, f"{what} did not happen"
            time.sleep(0.002)

    def go_on(self, seconds):
        """Let the pot's time pass, some seconds at a time, and wait until the page has seen it all."""
        while seconds > 0:
            step_s = min(6.0, seconds)
            seconds -= step_s
            self.clock.now_s += step_s
            pot = self.pots[-1]
            target_s = pot.now_s() - 0.3
            pot.interrupt()
            self.wait(lambda target_s=target_s: self.seen_s() >= target_s)

    def seen_s(self):
        snapshot = self.page.source.snapshot
        return -1.0 if snapshot is None or snapshot.last_s is None else snapshot.last_s

    def open_as_sitting(self, bath=Bath.POT, *, keep=True):
        """Let the Bench page read from a bath, as from any source."""
        self.pots.append(VirtualPot(bath, PROBES[:2], seed=7, clock=self.clock))
        self.window.session.begin(SourceChoice(self.pots[-1], machine="Pot", keep=keep))
        self.wait(lambda: self.window.session.snapshot is not None)

    def until_settled(self, longest_s=400):
        for _ in range(longest_s // 6):
            if self.page.check.bath.take_button.isEnabled():
                return
            self.go_on(6)
        raise AssertionError("the bath did not settle")

    def to_a_new_probe(self, name="basket 1"):
        self.window.activateWindow()
        names = [button.text() for button in self.window.rail.pages]
        digit = Qt.Key(Qt.Key.Key_1 + names.index("Probes"))
        self.press(digit, Qt.KeyboardModifier.ControlModifier)
        self.wait(lambda: self.page.shelf.was_read, "reading the probes")
        assert self.page.list.name_field.hasFocus()
        self.type(name)
        self.press()
        self.wait(lambda: self.page.shelf.named(name) is not None, "making the probe")
        self.tab_to(self.page.details.check_button)

    def through_a_boil(self, *, operator="Ada"):
        self.press()  # check this probe
        check = self.page.check
        assert "scald" in check.caution.cautions.text()
        assert "workplace" in check.caution.cautions.text()
        self.press()  # understood
        assert check.source_step.isVisible()
        assert check.source_step.virtual_button.hasFocus()
        self.press()
        self.wait(lambda: self.page.source.snapshot is not None)
        self.go_on(2)
        self.wait(check.source_step.go_on_button.isEnabled)
        self.tab_to(check.source_step.go_on_button)
        self.press()
        assert check.conditions.isVisible()
        assert check.conditions.reference.temp_degc == pytest.approx(POT_BOILS_DEGC, abs=0.001)
        self.tab_to(check.conditions.operator)
        self.type(operator)
        self.tab_to(check.conditions.go_on_button)
        self.press()
        assert check.bath.isVisible()
        self.until_settled()
        self.wait(check.bath.take_button.hasFocus)
        self.press()
        assert check.result.isVisible()


@pytest.fixture
def pots(qtbot, window, monkeypatch):
    return Pots(qtbot, window, monkeypatch)


@pytest.fixture
def choices(qapp):  # noqa: ARG001 - a QObject with a timer needs an application
    made = Choices()
    yield made
    made.keep()


@pytest.fixture
def page(qtbot, logbook, choices):
    """Return the page alone, shown as large as it is in the least window."""
    made = ProbesPage(logbook, choices, ProbeShelf(logbook))
    qtbot.addWidget(made)
    made.set_theme(LIGHT)
    made.set_unit(TempUnit.DEGC)
    made.resize(920, 660)
    made.show()
    yield made
    made.close_down()
    made.shelf.close_down()


@pytest.fixture
def read(qtbot, page):
    """Return a function that lets the page read its probes anew and waits for it."""

    def go():
        page.shelf.was_read = False
        page.read()
        qtbot.waitUntil(lambda: page.shelf.was_read, timeout=5000)

    return go
