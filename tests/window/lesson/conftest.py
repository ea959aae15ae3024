"""A replay on the Bench that a teacher can steer, and a look at all that a class can read."""

import time

import pytest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QLineEdit, QWidget

from benchtemp.readings.replay import ReplaySource
from benchtemp.readings.virtual import simulate, virtual_machines
from benchtemp.readings.virtual.script import LockIn, Note, Shot, Wait
from benchtemp.window.app import choice_of


@pytest.fixture(scope="session")
def recorded():
    """Return a recording of one shot with a note in it, pump on at 20 s and off at 46 s."""
    return simulate(
        virtual_machines()["dual-boiler"],
        [
            LockIn(dose_g=18.0),
            Wait(seconds=12.0),
            Note(text="cup changed"),
            Wait(seconds=8.0),
            Shot(seconds=26.0),
            Wait(seconds=20.0),
        ],
        seed=5,
    )


class Lecture:
    """A replay under the control of the test: it stands still wherever it is put."""

    def __init__(self, window, stream, name="lecture.ecsv"):
        self.window = window
        self.source = ReplaySource(stream, name, paused=True)
        window.session.begin(choice_of(self.source))
        self.to(stream.t_s[0])

    @property
    def bench(self):
        return self.window.bench

    def to(self, t_s):
        """Go to a moment and wait until the bench has seen all up to there."""
        self.source.seek(float(t_s))
        self.settle()

    def settle(self):
        want_s = self.source.now_s()
        deadline_s = time.monotonic() + 20.0
        while True:
            self.window.session.look()
            QApplication.processEvents()
            snapshot = self.window.session.snapshot
            last_s = None if snapshot is None else snapshot.last_s
            if last_s is not None and want_s - 0.15 <= last_s <= want_s + 1e-3:
                return
            assert time.monotonic() < deadline_s, (want_s, last_s)
            time.sleep(0.002)


@pytest.fixture
def lecture(window, recorded):
    return Lecture(window, recorded)


@pytest.fixture
def make_lecture(window):
    return lambda *args: Lecture(window, *args)


@pytest.fixture
def all_texts():
    """Return a walk over all that can be read, or read out, in a widget; the temperature now is left out."""

    def walk(root):
        now = root.headline.temperature.figure.text()
        found = []
        for widget in (root, *root.findChildren(QWidget)):
            if not widget.isVisible():
                continue
            if isinstance(widget, QLabel | QAbstractButton | QLineEdit):
                found.append(widget.text())
            found += [widget.accessibleName(), widget.accessibleDescription(), widget.toolTip()]
        return [text.replace(now, "") for text in found if text]

    return walk
