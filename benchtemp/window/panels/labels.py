"""Small texts and buttons that panels share."""

from __future__ import annotations

import re

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton, QSizePolicy, QWidget

from benchtemp.window.theme import repolish, scaled_font

_UNITS = "°C|°F|K|s|g|min|h|mm|cm|m|hPa|kPa|%"
_PARTED = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?!\w))|(?<=±) (?=\d)")


def unbroken(text: str) -> str:
    """Return a text in which no line ends between a number and its unit, or after a sign before a number."""
    return _PARTED.sub("\N{NO-BREAK SPACE}", text)


class Wrapped(QLabel):
    """Plain words on as many lines as they need, a number and its unit on one; `text()` is as given."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setWordWrap(True)
        self.setText(text)

    def text(self) -> str:
        """Return the words as they were given."""
        return self._said

    def setText(self, text: str) -> None:
        """Show words."""
        self._said = text
        super().setText(unbroken(text))

    def clear(self) -> None:
        """Hold no words."""
        self.setText("")


def heading(text: str, parent: QWidget | None = None) -> QLabel:
    """Return the title of a panel."""
    label = QLabel(text, parent)
    label.setProperty("look", "heading")
    label.setFont(scaled_font(1.1, bold=True))
    return label


def quiet(text: str = "", parent: QWidget | None = None, *, wrap: bool = False) -> QLabel:
    """Return quieter text, on one line or wrapped."""
    label = Wrapped(text, parent) if wrap else QLabel(text, parent)
    label.setProperty("look", "quiet")
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label


def button(text: str, *, name: str = "", look: str = "", tip: str = "") -> QPushButton:
    """Return a button that Enter presses when it has the focus (Space is the pump's)."""
    made = QPushButton(text)
    made.setAutoDefault(True)
    if name:
        made.setAccessibleName(name)
    if look:
        made.setProperty("look", look)
    if tip:
        made.setToolTip(tip)
    return made


class Sentence(Wrapped):
    """One wrapped sentence that takes no room while there is nothing to say.

    `look` is one of the style sheet's: `bad`, `good`, `caution`, `quiet` or empty.
    """

    def __init__(self, parent: QWidget | None = None, *, look: str = "quiet", name: str = "") -> None:
        super().__init__("", parent)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        self.setProperty("look", look)
        self._name = name
        self.setVisible(False)

    def say(self, text: str, look: str | None = None) -> None:
        """Show a sentence, or nothing; `look` changes its colour."""
        if look is not None and look != self.property("look"):
            self.setProperty("look", look)
            repolish(self)
        if text != self.text():
            self.setText(text)
            self.setAccessibleName(f"{self._name}: {text}" if self._name and text else text)
        if self.isHidden() == bool(text):
            self.setVisible(bool(text))
