"""The note that the replay has reached, large enough to be read across a room."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QWidget

from benchtemp.window.panel import Panel

if TYPE_CHECKING:
    from benchtemp.readings.reading import Mark
    from benchtemp.window.theme import Theme

_LINES = 2
_LONG = 70
"""Longer notes are written smaller, so that they fit."""


class NoteBoard(Panel):
    """One note. Its room stays the same whether there is one or not, so that the trace beside it rests."""

    def __init__(self, parent: QWidget | None = None, *, scale: float = 2.0) -> None:
        """Make an empty board.

        Args:
            parent: Widget it belongs to.
            scale: Of the note's font against the system's.
        """
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Note")
        self._scale = scale
        self._long = False
        self.text = QLabel()
        self.text.setTextFormat(Qt.TextFormat.PlainText)
        self.text.setWordWrap(True)
        self.text.setAccessibleName("Note reached")
        self.text.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        row = QHBoxLayout(self)
        row.setContentsMargins(14, 4, 14, 4)
        row.addWidget(self.text, 1)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.set_theme(self.theme)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.text.setFont(theme.font(self._scale, bold=True))
        self.setFixedHeight(int(self.text.fontMetrics().lineSpacing() * _LINES) + 12)
        self._fit()

    def show_note(self, note: Mark | None) -> None:
        """Show a note, or an empty board."""
        text = "" if note is None else note.text
        if text == self.text.text():
            return
        self.text.setText(text)
        self._fit()

    def _fit(self) -> None:
        long = len(self.text.text()) > _LONG
        scale = self._scale * (0.55 if long else 1.0)
        self.text.setFont(self.theme.font(scale, bold=True))
