"""The list of keys and cautions, laid over the page; nothing behind it stops."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchtemp.window.guidance import CAUTIONS
from benchtemp.window.keys import KEYS, MORE_KEYS
from benchtemp.window.practice_page.keys import PRACTICE_KEYS
from benchtemp.window.sources.replay_bar import key_help
from benchtemp.window.theme import scaled_font

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent


_SHOTS, _WINDOW = "While shots are pulled", "Window"
_TOPICS = (_SHOTS, "Virtual machine", "Plot", _WINDOW, "Replay", "Logbook", "Practice")
_OF_WINDOW = {"unit", "theme", "presentation", "sources", "keys"}
_NAME_CHARS = 24


def by_topic(pages: int) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return the keys and what they do, under the headings they are listed by.

    Args:
        pages: How many pages there are to go to.
    """
    found: dict[str, list[tuple[str, str]]] = {topic: [] for topic in _TOPICS}

    def take(shown: str, meaning: str, usual: str) -> None:
        head, colon, rest = meaning.partition(": ")
        if colon and head in found:
            found[head].append((shown, rest[0].upper() + rest[1:]))
        else:
            found[usual].append((shown, meaning))

    for key in KEYS:
        of_page = key.command.startswith("page_")
        if not of_page or int(key.command[5:]) <= pages:
            take(key.shown, key.meaning, _WINDOW if of_page or key.command in _OF_WINDOW else _SHOTS)
    for shown, meaning in (*MORE_KEYS, *key_help(), *PRACTICE_KEYS):
        take(shown, meaning, _WINDOW)
    return [(topic, keys) for topic, keys in found.items() if keys]


class KeyList(QFrame):
    """Keys and cautions; Esc puts it away and gives the focus back."""

    def __init__(self, parent: QWidget, *, pages: int) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Keys and cautions")
        self._focus_before: QWidget | None = None
        body = QWidget()
        grid = QGridLayout(body)
        grid.setContentsMargins(0, 0, 8, 0)
        grid.setHorizontalSpacing(18)
        grid.setVerticalSpacing(5)
        grid.setColumnStretch(1, 1)
        row = 0
        for topic, keys in by_topic(pages):
            title = QLabel(topic)
            title.setFont(scaled_font(1.1, bold=True))
            title.setContentsMargins(0, 0 if row == 0 else 10, 0, 2)
            grid.addWidget(title, row, 0, 1, 2)
            row += 1
            for shown, meaning in keys:
                name = QLabel(shown.replace(", ", ",\n") if len(shown) > _NAME_CHARS else shown)
                name.setFont(scaled_font(bold=True))
                text = QLabel(meaning)
                text.setWordWrap(True)
                grid.addWidget(name, row, 0, Qt.AlignmentFlag.AlignTop)
                grid.addWidget(text, row, 1, Qt.AlignmentFlag.AlignTop)
                row += 1
        grid.setRowStretch(row, 1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(body)
        self._close = QPushButton("Close (Esc)")
        self._close.clicked.connect(self.put_away)
        head = QHBoxLayout()
        head.addWidget(self._heading("Keys and cautions"), 1)
        head.addWidget(self._close)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(20, 14, 20, 14)
        layout.setSpacing(10)
        layout.addLayout(head)
        layout.addWidget(self._make_cautions())
        layout.addWidget(scroll, 1)
        self.hide()

    @staticmethod
    def _make_cautions() -> QFrame:
        box = QFrame()
        box.setProperty("look", "note-caution")
        text = QLabel("\n".join(CAUTIONS))
        text.setWordWrap(True)
        QVBoxLayout(box).addWidget(text)
        return box

    @staticmethod
    def _heading(text: str) -> QLabel:
        label = QLabel(text)
        label.setFont(scaled_font(1.25, bold=True))
        return label

    @Slot()
    def toggle(self) -> None:
        """Show it, or put it away."""
        if self.isVisible():
            self.put_away()
            return
        self._focus_before = self.window().focusWidget()
        self.place()
        self.show()
        self.raise_()
        self._close.setFocus()

    @Slot()
    def put_away(self) -> None:
        """Hide it and give the focus back."""
        self.hide()
        if self._focus_before is not None:
            self._focus_before.setFocus()
            self._focus_before = None

    def place(self) -> None:
        """Lie in the middle of the window."""
        room = self.window().size()
        width = min(room.width() - 40, self.fontMetrics().averageCharWidth() * 105)
        height = min(room.height() - 40, self.fontMetrics().lineSpacing() * 48)
        self.setGeometry((room.width() - width) // 2, (room.height() - height) // 2, width, height)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Put away with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.put_away()
        else:
            super().keyPressEvent(event)
