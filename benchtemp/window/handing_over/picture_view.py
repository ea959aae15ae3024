"""A picture as it will be, fitted into the room there is; on squares where it has no ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPixmap

from benchtemp.window.panel import Panel

if TYPE_CHECKING:
    from PySide6.QtGui import QPaintEvent
    from PySide6.QtWidgets import QWidget

_SQUARE_PX = 12
_MARGIN_PX = 10
_DARK, _LESS_DARK = QColor("#53616a"), QColor("#6b7a84")
"""Squares of a middle tone, as footage often is: light lines with dark edges stand out on both."""


class PictureView(Panel):
    """Shows a picture whole, never larger than it was drawn."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Picture as it will be")
        self._picture = QPixmap()
        self._clear = False

    @property
    def picture(self) -> QPixmap:
        """Return the picture shown; an empty one where there is none."""
        return self._picture

    def show_picture(self, png: bytes, *, clear: bool = False, told: str = "") -> None:
        """Show a picture, or nothing.

        Args:
            png: Its file's content; empty for nothing.
            clear: Whether it has no ground of its own.
            told: What it shows, for those who do not see it.
        """
        self._picture = QPixmap()
        if png:
            self._picture.loadFromData(png)
        self._clear = clear
        self.setAccessibleDescription(told)
        self.update()

    def sizeHint(self) -> QSize:
        """Ask for room."""
        return QSize(640, 400)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint it in the middle."""
        super().paintEvent(event)
        if self._picture.isNull():
            return
        room = self.size() - QSize(2 * _MARGIN_PX, 2 * _MARGIN_PX)
        size = self._picture.size()
        if size.width() > room.width() or size.height() > room.height():
            size = size.scaled(room, Qt.AspectRatioMode.KeepAspectRatio)
        x, y = (self.width() - size.width()) // 2, (self.height() - size.height()) // 2
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        place = QRectF(x, y, size.width(), size.height())
        if self._clear:
            self._paint_squares(painter, place)
        painter.drawPixmap(place, self._picture, QRectF(self._picture.rect()))
        painter.end()

    def _paint_squares(self, painter: QPainter, place: QRectF) -> None:
        painter.save()
        painter.setClipRect(place)
        painter.fillRect(place, _DARK)
        for row in range(int(place.height()) // _SQUARE_PX + 1):
            for column in range(row % 2, int(place.width()) // _SQUARE_PX + 1, 2):
                left, top = place.left() + column * _SQUARE_PX, place.top() + row * _SQUARE_PX
                painter.fillRect(QRectF(left, top, _SQUARE_PX, _SQUARE_PX), _LESS_DARK)
        painter.restore()
