"""A slip of fields laid into the page: out of sight until it is wanted, put away with Esc."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QWidget

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent


class Slip(QFrame):
    """Stands in the page only while something is asked; nothing else has to wait for it.

    Signals:
        left: It was put away, with or without an answer.
    """

    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "note-plain")
        self.hide()

    @Slot()
    def put_away(self) -> None:
        """Ask no more."""
        if not self.isHidden():
            self.hide()
            self.left.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Put it away with Esc; Enter belongs to its fields."""
        if event.key() == Qt.Key.Key_Escape:
            self.put_away()
        elif event.key() not in {Qt.Key.Key_Return, Qt.Key.Key_Enter}:
            super().keyPressEvent(event)
