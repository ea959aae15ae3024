"""The keys: one table that the window obeys and the key list shows."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

import shiboken6
from PySide6.QtCore import QEvent, QObject, Qt, Slot
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut, QWindow
from PySide6.QtWidgets import QAbstractButton, QApplication, QWidget

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


REPEAT_WITHIN_S = 0.025
"""A press this soon after a release is the same key, held down."""


@dataclass(frozen=True, slots=True)
class Key:
    """A command and the keys that give it.

    Attributes:
        command: Name the window knows it by.
        sequences: Keys, in Qt's portable writing.
        shown: How the key list writes them.
        meaning: What it does.
    """

    command: str
    sequences: tuple[str, ...]
    shown: str
    meaning: str


KEYS = (
    Key(
        "press", ("Space",), "Space", "Pump on; again: pump off. Works with a foot switch that types a space."
    ),
    Key(
        "pump",
        ("Ctrl+Space",),
        "Ctrl+Space",
        "The same, also while you type words (there Space types a space).",
    ),
    Key("undo", ("U", "Ctrl+Z"), "U, Ctrl+Z", "Take the last pump mark back."),
    Key("note", ("N",), "N", "Write a note into the recording; in a replay, beside it."),
    Key("tare", ("T",), "T", "Set the scale to zero."),
    Key("follow", ("F",), "F", "Plot: back to the live trace."),
    Key("near_band", ("B",), "B", "Plot: zoom to the target band, or back."),
    Key("reference", ("R",), "R", "Plot: next reference trace."),
    Key("water", ("W",), "W", "Plot: the water's temperature, the probe's lag removed (needs a plunge)."),
    Key("dose", ("D",), "D", "Go to the dose of the next shot; of the last one while it has none."),
    Key("yield", ("Y",), "Y", "Go to the yield of the last shot."),
    Key("raw", ("L",), "L", "Show the raw lines as they arrive, or hide them."),
    Key(
        "machine",
        ("S",),
        "S",
        "Virtual machine: go to its setpoint; Tab goes on to grind, flush and idle time.",
    ),
    Key("flush", ("X",), "X", "Virtual machine: flush for the time given."),
    Key("idle", ("I",), "I", "Virtual machine: go to its idle time; Enter waits for it, at a fast clock."),
    Key("uncertainty", ("E",), "E", "What the uncertainty of the shot shown, or the last one, is made of."),
    Key("results", ("H",), "H", "Replay: hide the results, or show them."),
    Key("sound", ("M",), "M", "Plan under way: sound before each start, or none."),
    Key("unit", ("Ctrl+U",), "Ctrl+U", "Show °C or °F."),
    Key("theme", ("Ctrl+L",), "Ctrl+L", "Look: as the system, light, dark."),
    Key("presentation", ("F11", "P"), "F11, P", "Large view over the whole screen, and back."),
    Key("page_1", ("Ctrl+1",), "Ctrl+1", "Bench."),
    Key("page_2", ("Ctrl+2",), "Ctrl+2", "Plan."),
    Key("page_3", ("Ctrl+3",), "Ctrl+3", "Findings."),
    Key("page_4", ("Ctrl+4",), "Ctrl+4", "Probes."),
    Key("page_5", ("Ctrl+5",), "Ctrl+5", "Logbook."),
    Key("page_6", ("Ctrl+6",), "Ctrl+6", "Practice."),
    Key("sources", ("Ctrl+O",), "Ctrl+O", "Choose another source."),
    Key("keys", ("?", "F1"), "?, F1", "Show or hide this list."),
)
MORE_KEYS = (
    ("Tab, Shift+Tab", "Go from control to control."),
    ("Enter", "Press the button, or show the shot, that has the focus."),
    ("Arrows, + and −", "Plot: move, and zoom in time; with Shift + and − zoom in temperature."),
    ("Wheel", "Plot: zoom in time, with Ctrl in temperature. Drag to move."),
    ("Esc", "Leave a field, the key list or the large view."),
    ("Ctrl+F, F2, Delete", "Logbook: search; go to tags and notes; to the bin. Enter replays."),
    ("Ctrl+Z, Ctrl+Shift+Z", "Logbook: undo what was done to files, step by step; do it again."),
)


class KeyTable(QObject):
    """Obeys the keys wherever the focus is.

    Fields for words take their letters first, so letters and Space do nothing else there; fields for numbers
    leave letters and Space to the window. A key held down counts once.
    """

    def __init__(self, window: QWidget, commands: Mapping[str, Callable[[], None]]) -> None:
        super().__init__(window)
        self.shortcuts: list[QShortcut] = []
        for key in KEYS:
            if key.command not in commands:
                continue
            for sequence in key.sequences:
                shortcut = QShortcut(QKeySequence(sequence), window)
                shortcut.setContext(Qt.ShortcutContext.ApplicationShortcut)
                shortcut.setAutoRepeat(False)
                shortcut.activated.connect(commands[key.command])
                self.shortcuts.append(shortcut)


class HeldKeys(QObject):
    """Tells a key held down from one pressed again, also where the system does not say so.

    Some systems send a release before every repeat and do not mark it (X11 does for keys that come from a
    remote screen). Nobody lets a key go and presses it again within a few milliseconds.
    """

    def __init__(self) -> None:
        super().__init__()
        self._released_s = float("-inf")

    def watch(self, window: QWindow | None) -> None:
        """See the releases of keys in a window."""
        if window is not None:
            window.installEventFilter(self)

    @property
    def repeating(self) -> bool:
        """Tell whether a key pressed at this moment was let go only just now."""
        return time.perf_counter() - self._released_s < REPEAT_WITHIN_S

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        """Note when a key is let go."""
        if event.type() is QEvent.Type.KeyRelease:
            self._released_s = time.perf_counter()
        return False


class EnterPresses(QObject):
    """Lets Enter press whichever button has the focus: Space, the usual key for it, belongs to the pump."""

    def __init__(self, app: QApplication) -> None:
        super().__init__()
        self._watched: QAbstractButton | None = None
        app.focusChanged.connect(self._move)

    @Slot(QWidget, QWidget)
    def _move(self, _old: QWidget | None, new: QWidget | None) -> None:
        if self._watched is not None:
            # Deleted a moment ago, it may not have said so yet.
            if shiboken6.isValid(self._watched):
                self._watched.removeEventFilter(self)
            self._watched = None
        if isinstance(new, QAbstractButton):
            new.installEventFilter(self)
            new.destroyed.connect(self._forget)
            self._watched = new

    @Slot()
    def _forget(self) -> None:
        self._watched = None

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Click the button on Enter."""
        if (
            event.type() is QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter}
            and isinstance(watched, QAbstractButton)
        ):
            if not event.isAutoRepeat():
                watched.click()
            return True
        return False
