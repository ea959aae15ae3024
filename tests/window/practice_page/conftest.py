"""Shots to practise, and a trace that runs on a clock of the test's own."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QLineEdit, QWidget

from benchtemp.teaching.endless import Level, practice_exercise

CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture(scope="session")
def items():
    """Return three easy shots."""
    return practice_exercise(Level.EASY, 11, 3).items


class Clock:
    """A clock that stands still until it is told to go on."""

    def __init__(self):
        self.now_s = 50.0

    def __call__(self):
        return self.now_s


class Trainee:
    """Somebody at the keyboard of the Practice page."""

    def __init__(self, qtbot, window):
        self.qtbot, self.window = qtbot, window
        self.clock = Clock()
        window.activateWindow()
        qtbot.waitUntil(window.isActiveWindow)
        self.key(Qt.Key.Key_6, CTRL)
        assert window.page == 5
        qtbot.waitUntil(lambda: not self.page._listing.busy, timeout=5000)

    @property
    def page(self):
        return self.window.practising.page

    @property
    def panel(self):
        return self.page.round

    @property
    def step(self):
        """Return the sentence that says what to do next."""
        return self.panel.head.step.text()

    def key(self, key, modifier=Qt.KeyboardModifier.NoModifier):
        self.qtbot.keyClick(QApplication.focusWidget() or self.window, key, modifier)
        QApplication.processEvents()

    def type(self, text):
        self.qtbot.keyClicks(QApplication.focusWidget(), text)

    def begin(self, prepared):
        """Begin a round with these shots; the trace runs on the test's clock."""
        self.panel.player._clock = self.clock
        self.page._begin_round(prepared)

    def watch_until(self, t_s):
        """Let the trace run to a moment of the shot."""
        while self.panel.player.playing and self.panel.player.position_s < t_s - 1e-9:
            self.clock.now_s += min(2.0, t_s - self.panel.player.position_s)
            self.panel.look()
            QApplication.processEvents()


@pytest.fixture
def trainee(qtbot, window):
    return Trainee(qtbot, window)


@pytest.fixture
def all_texts():
    """Return a walk over all that can be read, or read out, in a widget and in what it shows."""

    def walk(root):
        found = []
        for widget in (root, *root.findChildren(QWidget)):
            if widget.isVisible():
                if isinstance(widget, QLabel | QAbstractButton | QLineEdit):
                    found.append(widget.text())
                found += [widget.accessibleName(), widget.accessibleDescription(), widget.toolTip()]
        return [text for text in found if text]

    return walk
