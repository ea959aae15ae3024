"""A box to tick that can be seen in both themes; Enter switches it, Space stays the pump's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPalette, QPen, QPolygonF
from PySide6.QtWidgets import QCheckBox

if TYPE_CHECKING:
    from PySide6.QtCore import QPoint
    from PySide6.QtGui import QPaintEvent

_PAD = 4.0


class Tick(QCheckBox):
    """Drawn by hand: the style sheet takes the frame off the system's own box."""

    def sizeHint(self) -> QSize:
        """Return room for box and text."""
        metrics = QFontMetricsF(self.font())
        return QSize(
            int(self._side() + metrics.horizontalAdvance(self.text()) + 4 * _PAD + 2),
            int(metrics.height() + 2 * _PAD),
        )

    def minimumSizeHint(self) -> QSize:
        """Return the same: the text is not cut."""
        return self.sizeHint()

    def hitButton(self, pos: QPoint) -> bool:
        """Take clicks anywhere on it."""
        return self.rect().contains(pos)

    def _side(self) -> float:
        return QFontMetricsF(self.font()).ascent() * 1.05

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw box, tick, text, and the frame of the focus."""
        palette = self.palette()
        text = palette.color(QPalette.ColorRole.WindowText)
        accent = palette.color(QPalette.ColorRole.Highlight)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        side = self._side()
        box = QRectF(_PAD + 0.5, (self.height() - side) / 2, side, side)
        painter.setPen(QPen(text if self.isEnabled() else palette.color(QPalette.ColorRole.Mid), 1.2))
        painter.setBrush(accent if self.isChecked() else palette.color(QPalette.ColorRole.Base))
        painter.drawRoundedRect(box, 3, 3)
        if self.isChecked():
            pen = QPen(palette.color(QPalette.ColorRole.HighlightedText), max(1.6, side / 7))
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            places = ((0.22, 0.52), (0.43, 0.74), (0.79, 0.28))
            points = [QPointF(box.left() + x * side, box.top() + y * side) for x, y in places]
            painter.drawPolyline(QPolygonF(points))
        metrics = QFontMetricsF(self.font())
        base = (self.height() + metrics.ascent() - metrics.descent()) / 2
        painter.setPen(text)
        painter.drawText(QPointF(box.right() + 2 * _PAD, base), self.text())
        if self.hasFocus():
            painter.setPen(QPen(QColor(accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 4, 4)
        painter.end()
