"""Notes of a file, several lines of words, taken when the field is left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QPlainTextEdit, QWidget

from benchtemp.logbook.index.editing import NOTES_MAX

if TYPE_CHECKING:
    from PySide6.QtGui import QFocusEvent, QKeyEvent

_LINES = 4


class NotesField(QPlainTextEdit):
    """Shows notes and lets them be changed; Ctrl+Enter takes them, Esc brings back what was there.

    Signals:
        given: The notes as they shall be.
    """

    given = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Notes")
        self.setTabChangesFocus(True)
        self._shown = ""

    def sizeHint(self) -> QSize:
        """Return room for some lines."""
        return QSize(200, int(self.fontMetrics().lineSpacing() * _LINES) + 16)

    def minimumSizeHint(self) -> QSize:
        """Return room for some lines."""
        return QSize(80, self.sizeHint().height())

    @property
    def changed(self) -> bool:
        """Tell whether something else stands there than was shown."""
        return self.toPlainText().strip() != self._shown.strip()

    def show_notes(self, notes: str, *, anew: bool) -> None:
        """Show notes; what is being typed stays, unless they are `anew` those of another file."""
        if not anew and self.changed:
            return
        if notes != self.toPlainText():
            self.setPlainText(notes)
        self._shown = notes

    def take(self) -> None:
        """Give what was typed, if anything was."""
        if self.changed and not self.isReadOnly():
            # Longer notes are refused with a sentence that tells their length; what was typed stays.
            text = self.toPlainText().strip()
            if len(text) <= NOTES_MAX:
                self._shown = text
            self.given.emit(text)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Take the notes when the field is left; a menu over it is no leaving."""
        super().focusOutEvent(event)
        if event.reason() is not Qt.FocusReason.PopupFocusReason:
            self.take()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take with Ctrl+Enter, bring back with Esc."""
        if event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter} and (
            event.modifiers() & Qt.KeyboardModifier.ControlModifier
        ):
            self.take()
        elif event.key() == Qt.Key.Key_Escape and self.changed:
            self.setPlainText(self._shown)
        else:
            super().keyPressEvent(event)
