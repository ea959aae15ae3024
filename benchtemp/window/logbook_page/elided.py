"""A name too long for its place: cut in the middle, whole in the tip, whole when copied."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QGuiApplication, QKeySequence, QPainter
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

from benchtemp.window.logbook_page.tips import plain_tip

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent, QPaintEvent


class Elided(QLabel):
    """One line that never asks for more width than there is; Ctrl+C copies it whole."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)

    def say(self, text: str) -> None:
        """Show a name, or nothing."""
        self.setText(text)
        self.setToolTip(plain_tip(text))
        self.setVisible(bool(text))

    def minimumSizeHint(self) -> QSize:
        """Return one line's height."""
        return QSize(20, self.fontMetrics().lineSpacing() + 4)

    def sizeHint(self) -> QSize:
        """Return one line's height."""
        return self.minimumSizeHint()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw what there is room for."""
        painter = QPainter(self)
        painter.setPen(self.palette().color(self.foregroundRole()))
        text = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideMiddle, self.width())
        painter.drawText(self.rect(), int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), text)
        painter.end()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Copy the whole name."""
        if event.matches(QKeySequence.StandardKey.Copy):
            QGuiApplication.clipboard().setText(self.text())
        else:
            super().keyPressEvent(event)
