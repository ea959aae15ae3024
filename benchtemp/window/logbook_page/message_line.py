"""The line below the list: how much there is, what was done and can be undone, what is under way."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QWidget

from benchtemp.window.logbook_page.tips import plain_tip
from benchtemp.window.panels.labels import button, quiet
from benchtemp.window.theme import repolish

if TYPE_CHECKING:
    from benchtemp.window.logbook_page.deeds import Deed


_UNDO_CHARS = 44


class _Text(QLabel):
    """A wrapped text that does not hold the page open."""

    def minimumSizeHint(self) -> QSize:
        return QSize(self.fontMetrics().averageCharWidth() * 20, self.fontMetrics().lineSpacing())


class MessageLine(QFrame):
    """Counts, a message with its buttons, and progress.

    Signals:
        undo_asked: What the button names shall be undone.
        again_asked: What was refused shall be done all the same.
        cancel_asked: What is under way shall stop.
    """

    undo_asked = Signal()
    again_asked = Signal()
    cancel_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("What was done")
        self.counts = quiet()
        self.said = _Text()
        self.said.setWordWrap(True)
        self.said.setTextFormat(Qt.TextFormat.PlainText)
        self.said.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.undo_button = button("")
        self.undo_button.clicked.connect(self.undo_asked)
        self.undo_button.hide()
        self.again_button = button("")
        self.again_button.clicked.connect(self.again_asked)
        self.away_button = button("Put away", look="flat")
        self.away_button.clicked.connect(self.clear)
        self.progress = quiet()
        self.cancel_button = button("Stop", name="Stop what is under way")
        self.cancel_button.clicked.connect(self.cancel_asked)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(self.counts)
        row.addWidget(self.said, 1)
        for widget in (
            self.again_button, self.undo_button, self.away_button, self.progress, self.cancel_button
        ):  # fmt: skip
            row.addWidget(widget)
        self.clear()
        self.show_progress("")

    @Slot()
    def clear(self) -> None:
        """Say nothing."""
        self.say("")

    def say(self, text: str, look: str = "quiet") -> None:
        """Say a sentence."""
        self.said.setText(text)
        self.said.setAccessibleName(text)
        if self.said.property("look") != look:
            self.said.setProperty("look", look)
            repolish(self.said)
        self.again_button.hide()
        self.away_button.setVisible(bool(text))

    def show_deed(self, deed: Deed) -> None:
        """Say what was done and what was refused, and offer what can be done about it."""
        look = "bad" if deed.refused else ""
        self.say(" ".join(filter(None, (deed.said, deed.complaint))), look)
        self.again_button.setVisible(deed.again is not None)
        self.again_button.setText(deed.again_words)

    def show_undo(self, words: str) -> None:
        """Offer to undo what the words name, or nothing."""
        told = f"Undo {words}"
        most_px = self.fontMetrics().averageCharWidth() * _UNDO_CHARS
        shown = self.fontMetrics().elidedText(told, Qt.TextElideMode.ElideRight, most_px)
        self.undo_button.setText(shown.replace("&", "&&"))
        self.undo_button.setAccessibleName(told)
        self.undo_button.setToolTip(plain_tip(f"{told} (Ctrl+Z)"))
        self.undo_button.setVisible(bool(words))

    def show_progress(self, words: str) -> None:
        """Show how far it is, with a button that stops it."""
        self.progress.setText(words)
        self.progress.setVisible(bool(words))
        self.cancel_button.setVisible(bool(words))
