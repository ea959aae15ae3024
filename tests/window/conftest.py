"""The window without a screen: isolated folders, a clock of the test's own, and nothing left behind."""

from __future__ import annotations

import gc
import os
import sys
import threading
import time
import weakref
from pathlib import Path

if os.environ.get("QT_QPA_PLATFORM", "offscreen") == "offscreen":
    # The usual offscreen screen has 800 by 800 pixels; ours must hold the window at its larger sizes.
    screen = f":configfile={Path(__file__).with_name('screen.json')}" if sys.platform != "win32" else ""
    os.environ["QT_QPA_PLATFORM"] = f"offscreen{screen}"
os.environ.setdefault("QT_SCALE_FACTOR", "1")
os.environ.setdefault("QT_FONT_DPI", "96")

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QTimer
from PySide6.QtWidgets import QApplication
from shiboken6 import isValid

from benchtemp.bench.snapshot import Snapshot
from benchtemp.bench.trace import TraceView
from benchtemp.readings.virtual import VirtualSource, virtual_machines
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.result import Origin, PullKind, Result
from benchtemp.shots.shot import Shot

DEADLINE_S = 20.0


@pytest.fixture(scope="session")
def qapp_cls():
    return QApplication


@pytest.fixture(scope="session")
def qapp_args():
    return ["benchtemp-tests"]


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    """Keep every test away from the user's preferences, logbook and cache."""
    for name in ("PREFERENCES", "LOGBOOK", "CACHE"):
        monkeypatch.setenv(f"BENCHTEMP_{name}", str(tmp_path / name.lower()))
    return tmp_path


@pytest.fixture(autouse=True)
def nothing_left(request, monkeypatch):
    """Fail a test that leaves a thread, a running timer or a window of its own behind."""
    if "qapp" not in request.fixturenames and "qtbot" not in request.fixturenames:
        yield
        return
    app = request.getfixturevalue("qapp")
    windows_before = set(map(id, app.topLevelWidgets()))
    threads_before = set(threading.enumerate())
    started = []
    start = QTimer.start

    def remembering_start(timer, *args):
        started.append(weakref.ref(timer))
        return start(timer, *args)

    monkeypatch.setattr(QTimer, "start", remembering_start)
    yield
    # What Python put there the offscreen clipboard would let go of only after Python's end, and crash.
    app.clipboard().clear()
    app.processEvents()
    # Without a running event loop nobody deletes what was asked to be deleted later.
    app.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.disable()  # as in Themes.apply: nothing may be collected while Qt walks its widgets
    app.setStyleSheet("")
    gc.enable()
    deadline_s = time.monotonic() + 5.0
    while set(threading.enumerate()) - threads_before and time.monotonic() < deadline_s:
        time.sleep(0.01)
    threads = [thread.name for thread in set(threading.enumerate()) - threads_before]
    assert not threads, f"threads left running: {threads}"
    timers = [ref() for ref in started]
    running = [timer for timer in timers if timer is not None and isValid(timer) and timer.isActive()]
    assert not running, f"timers left running, in {[timer.parent() for timer in running]}"
    windows = [
        window for window in app.topLevelWidgets() if id(window) not in windows_before and window.isVisible()
    ]
    assert not windows, f"windows left open: {windows}"


@pytest.fixture
def make_trace():
    """Return a maker of traces: ten readings a second, a rise to the brew temperature and a plateau."""

    def make(seconds=30.0, channels=1, *, rate_hz=10.0, brew_degc=93.0, rest_degc=60.0, rise_s=3.0):
        t_s = np.arange(0.0, seconds, 1 / rate_hz)
        climb = 1 - np.exp(-np.clip(t_s - rise_s, 0, None) / 1.5)
        basket = rest_degc + (brew_degc - rest_degc) * climb
        temps = np.column_stack([basket - 3 * channel for channel in range(channels)])
        return TraceView(t_s, temps, np.full(len(t_s), np.nan))

    return make


@pytest.fixture
def make_snapshot(make_trace):
    """Return a maker of snapshots; everything but what is given stands at rest and is fresh."""

    def make(**given):
        trace = given.setdefault("trace", make_trace())
        names = tuple(f"T{number + 1}" for number in range(trace.temps_degc.shape[1]))
        channels = given.setdefault("channels", names)
        if len(trace.t_s):
            given.setdefault("last_s", float(trace.t_s[-1]))
            given.setdefault("temps_degc", tuple(trace.temps_degc[-1]))
            given.setdefault("period_s", 0.1)
        given.setdefault("now_s", (given.get("last_s") or 0.0) + 0.05)
        assert len(channels) == trace.temps_degc.shape[1]
        return Snapshot(**given)

    return make


@pytest.fixture
def make_shot():
    """Return a maker of shots."""

    def make(
        number=1, *, key=None, pump_on_s=2.0, shot_time_s=25.0, yield_g=36.0, kind=PullKind.SHOT, **more
    ):
        end_s = pump_on_s + shot_time_s
        figures = {
            "kind": kind,
            "rise_s": pump_on_s + 1.0,
            "pump_on_s": pump_on_s,
            "pump_on_source": Origin.MARKED,
            "pump_off_s": end_s,
            "pump_off_source": Origin.MARKED,
            "plateau_start_s": pump_on_s + 6.0,
            "plateau_end_s": end_s,
            "brew_temp_degc": 93.1,
            "sd_k": 0.21,
            "highest_degc": 93.6,
            "lowest_degc": 92.4,
            "time_to_plateau_s": 6.0,
        }
        entered = {"dose_g": 18.0, "yield_g": yield_g, "recipe": Recipe(dose_g=18.0)}
        for name, value in more.items():
            (figures if name in Result.__struct_fields__ else entered)[name] = value
        result = Result(**figures)
        flush = result.kind is PullKind.FLUSH
        return Shot(
            number=0 if flush else number, key=number if key is None else key, result=result, **entered
        )

    return make


class Clock:
    """A clock that stands still until it is told to go on."""

    def __init__(self):
        self.now_s = 1000.0

    def __call__(self):
        return self.now_s


class Stand:
    """A virtual machine on a clock of the test's own, and the window that watches it."""

    def __init__(self, qtbot, window, machine="dual-boiler", **how):
        self.qtbot, self.window = qtbot, window
        self.clock = Clock()
        self.source = VirtualSource(virtual_machines()[machine], seed=4, clock=self.clock, **how)

    @property
    def snapshot(self):
        return self.window.session.snapshot

    def go_on(self, seconds):
        """Let time pass, one second at a time, and wait until the bench has seen it all."""
        while seconds > 0:
            step_s = min(1.0, seconds)
            seconds -= step_s
            self.clock.now_s += step_s
            target_s = self.source.now_s() - 0.15
            self.source.interrupt()
            self.wait(lambda target_s=target_s: (self.snapshot.last_s or -1.0) >= target_s)

    def wait(self, condition):
        deadline_s = time.monotonic() + DEADLINE_S
        while True:
            self.window.session.look()
            QApplication.processEvents()
            if self.snapshot is not None and condition():
                return
            assert time.monotonic() < deadline_s, "the bench did not get there"
            time.sleep(0.002)

    def start(self):
        from benchtemp.window.app import choice_of  # noqa: PLC0415 - fixtures without a window need no app

        self.window.session.begin(choice_of(self.source))
        self.wait(lambda: True)


@pytest.fixture
def window(qapp, qtbot):
    """Return the main window, shown at its least size."""
    from benchtemp.window.app import make_window  # noqa: PLC0415 - fixtures without a window need no app

    made = make_window(qapp)
    qtbot.addWidget(made)
    made.resize(1024, 700)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.close()


@pytest.fixture
def stand(qtbot, window):
    """Return the window with a virtual machine on a clock that the test moves on."""
    made = Stand(qtbot, window)
    made.start()
    return made


@pytest.fixture
def make_stand(qtbot, window):
    """Return a maker of stands with other machines; not yet started."""
    return lambda *args, **how: Stand(qtbot, window, *args, **how)
