"""Standing messages: what went wrong and what cures it, in the page, never in a dialog."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from benchtemp.window.theme import repolish, scaled_font

if TYPE_CHECKING:
    from collections.abc import Callable


class Weight(StrEnum):
    """How much a message matters; it is said by a word, not by colour alone."""

    NOTE = "Note"
    CAUTION = "Caution"
    TROUBLE = "Trouble"


SHOWN_MAX = 3
"""More messages wait until one of these goes."""
_LOOKS = {Weight.NOTE: "note-plain", Weight.CAUTION: "note-caution", Weight.TROUBLE: "note-bad"}


@dataclass(frozen=True)
class Message:
    """One standing message.

    Attributes:
        key: A later message of the same key takes its place.
        weight: How much it matters.
        text: One or two sentences with the cure.
        lasts_ms: When it goes by itself; 0 for not at all.
        may_go: Whether the user may put it away.
        action, act: Text of a button, and what it does.
    """

    key: str
    weight: Weight
    text: str
    lasts_ms: int = 0
    may_go: bool = True
    action: str = ""
    act: Callable[[], None] | None = None


class _Text(QLabel):
    """A wrapped text that does not hold the window open: it asks for height by the width it gets."""

    def minimumSizeHint(self) -> QSize:
        return QSize(self.fontMetrics().averageCharWidth() * 30, self.fontMetrics().lineSpacing())


class _Line(QFrame):
    """One message with its buttons."""

    put_away = Signal(str)

    def __init__(self, message: Message) -> None:
        super().__init__()
        self.message = message
        self._word = QLabel()
        self._word.setFont(scaled_font(bold=True))
        self._text = _Text()
        self._text.setWordWrap(True)
        self._text.setTextFormat(Qt.TextFormat.PlainText)
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._action = QPushButton()
        self._action.clicked.connect(self._do)
        self._away = QPushButton("Put away")
        self._away.setProperty("look", "flat")
        self._away.clicked.connect(self._go)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(10, 4, 6, 4)
        layout.setSpacing(10)
        layout.addWidget(self._word, 0, Qt.AlignmentFlag.AlignTop)
        layout.addWidget(self._text, 1)
        layout.addWidget(self._action, 0, Qt.AlignmentFlag.AlignVCenter)
        layout.addWidget(self._away, 0, Qt.AlignmentFlag.AlignVCenter)
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._go)
        self.show_message(message)

    def show_message(self, message: Message) -> None:
        """Show this message, or a later one of the same key."""
        self.message = message
        self._word.setText(str(message.weight))
        self._text.setText(message.text)
        self.setAccessibleName(f"{message.weight}: {message.text}")
        self._action.setVisible(bool(message.action))
        self._action.setText(message.action)
        self._away.setVisible(message.may_go)
        if self.property("look") != _LOOKS[message.weight]:
            self.setProperty("look", _LOOKS[message.weight])
            repolish(self)
        self._timer.stop()
        if message.lasts_ms:
            self._timer.start(message.lasts_ms)

    def end(self) -> None:
        """Wait for nothing any more."""
        self._timer.stop()

    @Slot()
    def _do(self) -> None:
        if self.message.act is not None:
            self.message.act()

    @Slot()
    def _go(self) -> None:
        self.put_away.emit(self.message.key)


class MessageBoard(QWidget):
    """The messages that stand, the weightiest first; a few at a time, to leave room for the page."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Messages")
        self._lines: dict[str, _Line] = {}
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(4)
        self.hide()

    @property
    def messages(self) -> tuple[Message, ...]:
        """Return what stands, from top to bottom."""
        found = []
        for row in range(self._layout.count()):
            item = self._layout.itemAt(row)
            line = item.widget() if item is not None else None
            if isinstance(line, _Line):
                found.append(line.message)
        return tuple(found)

    def text_of(self, key: str) -> str:
        """Return the text of a standing message, empty if there is none of this key."""
        line = self._lines.get(key)
        return line.message.text if line else ""

    def put(self, message: Message) -> None:
        """Let a message stand; the same one again changes nothing."""
        line = self._lines.get(message.key)
        if line is not None:
            if line.message.text != message.text or line.message.weight is not message.weight:
                line.show_message(message)
            return
        line = _Line(message)
        line.put_away.connect(self.withdraw)
        self._lines[message.key] = line
        order = list(Weight)[::-1]
        row = sum(order.index(other.weight) <= order.index(message.weight) for other in self.messages)
        self._layout.insertWidget(row, line)
        self._make_room()
        self.show()

    @Slot(str)
    def withdraw(self, key: str) -> None:
        """Take a message away, if it stands."""
        line = self._lines.pop(key, None)
        if line is None:
            return
        line.end()
        self._layout.removeWidget(line)
        line.hide()
        line.deleteLater()
        self._make_room()
        if not self._lines:
            self.hide()

    def _make_room(self) -> None:
        for place, message in enumerate(self.messages):
            self._lines[message.key].setVisible(place < SHOWN_MAX)

    def clear(self, *keys: str) -> None:
        """Take several messages away; all of them where none is named."""
        for key in keys or tuple(self._lines):
            self.withdraw(key)
