"""Probes as the Bench page sees them: plugged in, warned about, their lag removed, their uncertainty told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.probe_file import save_probe
from benchtemp.places import default_logbook_dir
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.probe import Probe
from benchtemp.probes.response import TimeConstant
from benchtemp.readings.replay import ReplaySource
from benchtemp.shots.budget import interface_of
from benchtemp.window.app import choice_of
from benchtemp.window.trace_plot import TracePlot

DATED_DAYS = 200
ERROR_K = 0.4
LAG = TimeConstant(
    tau_s=1.2, uncertainty_s=0.02, crossing_s=1.2, plunge_s=10, start_degc=22, end_degc=99, scatter_k=0.1
)


@pytest.fixture
def plugged(window, make_stand):
    """Return a sitting whose T1 has a probe with a known error, last checked long ago."""
    point = CheckPoint(reported_degc=99.9 + ERROR_K, reference_degc=99.9, reference_uncertainty_k=0.06)
    moment = (datetime.now(UTC) - timedelta(days=DATED_DAYS)).isoformat(timespec="seconds")
    probe = Probe(name="basket 1", time_constant=LAG).with_check(
        make_check([point], probe="basket 1", checked=moment)
    )
    save_probe(Logbook(default_logbook_dir()), probe)
    stand = make_stand()
    choices = window._choices
    choices.take(choices.now.with_probe(interface_of(stand.source.details), "T1", "basket 1"))
    stand.start()
    return stand


def press(qtbot, window, key):
    qtbot.keyClick(QApplication.focusWidget() or window, key)


def test_a_remembered_probe_corrects_the_sitting(window, plugged):
    plugged.go_on(3.0)
    trace = plugged.snapshot.trace
    np.testing.assert_allclose(trace.reported_degc[:, 0] - trace.temps_degc[:, 0], ERROR_K, atol=1e-9)
    assert window.bench.headline.temperature.figure.text() == f"{trace.temps_degc[-1, 0]:.1f} °C"


def test_an_old_check_is_pointed_out_once_and_leads_to_the_probes(window, plugged):
    plugged.go_on(2.0)
    told = window.board.text_of("checks")
    assert f"last checked {DATED_DAYS} days ago" in told
    window.board.withdraw("checks")
    plugged.go_on(2.0)
    assert not window.board.text_of("checks")  # put away, it stays away for this sitting
    window.reporter.probes_asked.emit()
    assert window.probes.isVisible()


def test_a_fresh_check_is_not_mentioned(window, stand):
    stand.go_on(2.0)
    assert not window.board.text_of("checks")


def test_e_tells_what_the_uncertainty_of_the_last_shot_is_made_of(qtbot, window, plugged):
    window.activateWindow()
    plugged.go_on(5.0)
    press(qtbot, window, Qt.Key.Key_E)
    assert "No shot of this sitting" in window.board.text_of("refused")
    window.pressing.press()
    plugged.go_on(25.0)
    window.pressing.press()
    plugged.go_on(8.0)
    plugged.wait(lambda: len(plugged.snapshot.shots) == 1)
    (shot,) = plugged.snapshot.shots
    window.bench.plot.canvas.setFocus()
    press(qtbot, window, Qt.Key.Key_E)
    view = window.probes.budget
    assert view.isVisible()
    assert view.budget.expanded_k() == pytest.approx(shot.brew_temp_expanded_uncertainty_k)
    assert view.budget.value == shot.result.brew_temp_degc
    press(qtbot, window, Qt.Key.Key_Escape)
    assert window.bench.isVisible()


def test_w_adds_the_curve_with_the_lag_removed(qtbot, window, plugged):
    window.activateWindow()
    plot = window.bench.plot
    plugged.go_on(12.0)
    plugged.wait(lambda: plot.water.tau_s == LAG.tau_s)
    assert plot.water_button.isVisible()
    assert not plot.legend.texts[1:]
    window.pressing.press()
    plugged.go_on(15.0)
    plot.canvas.setFocus()
    press(qtbot, window, Qt.Key.Key_W)
    plugged.go_on(2.0)
    assert "lag removed (estimate)" in plot.legend.texts[-1]
    assert "noise ×" in plot.legend.texts[-1]
    t_s, water = plot.water.curve.getData()
    probe_t_s, probe = plot.curves.curve(0).getData()
    climbing = (t_s > 3.0) & (t_s < 9.0)
    assert (water[climbing] - np.interp(t_s[climbing], probe_t_s, probe)).mean() > 0.3  # water leads
    press(qtbot, window, Qt.Key.Key_W)
    assert plot.legend.texts == ("T1 basket",)
    assert not len(plot.water.curve.getData()[0] if plot.water.curve.getData()[0] is not None else ())


def test_without_a_time_constant_there_is_nothing_to_remove(window, stand):
    stand.go_on(3.0)
    plot = window.bench.plot
    assert not plot.water_button.isVisible()
    plot.toggle_water()
    assert not plot.water.wanted


@pytest.fixture
def plot(qtbot):
    made = TracePlot()
    qtbot.addWidget(made)
    made.show()
    return made


def test_what_cannot_be_worked_out_says_why(plot, make_snapshot, make_trace, monkeypatch):
    plot.set_time_constant(1.2)
    plot.water_button.setChecked(True)
    plot.show_snapshot(make_snapshot(trace=make_trace(seconds=60.0)))
    assert "noise ×" in plot.water.text
    plot.water.show(plot._drawn, 0.0, (0.0, 0.5), 0, plot.unit)
    assert "too few readings" in plot.water.text
    monkeypatch.setattr("benchtemp.window.plot.water_line.ROWS_MAX", 100)
    plot.water.show(plot._drawn, 0.0, (0.0, 50.0), 0, plot.unit)
    assert "zoom in" in plot.water.text


def test_a_replay_goes_by_the_time_constant_its_recording_holds(window, plugged):
    plugged.go_on(12.0)
    recording = plugged.snapshot.recording
    window.session.end()
    window.session.begin(choice_of(ReplaySource(read_stream(recording), "again", paused=True)))
    plugged.wait(lambda: window.bench.plot.water.tau_s == LAG.tau_s)
