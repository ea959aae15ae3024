"""Draws the cells of the list straight from the model: hundreds of them stand on a large screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtGui import QColor, QPainter, QPalette
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

if TYPE_CHECKING:
    from PySide6.QtCore import QObject

    from benchtemp.window.logbook_page.list_model import ShotList

_PADDING_PX = 8
# Flags as plain numbers: Python's own take longer to be asked than a cell takes to be drawn.
_SELECTED = QStyle.StateFlag.State_Selected.value
_FOCUS = QStyle.StateFlag.State_HasFocus.value
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)


class CellPainter(QStyledItemDelegate):
    """Draws a cell's text; a style sheet's own way of drawing cells takes several times as long."""

    def __init__(self, shots: ShotList, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._shots = shots

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw one cell."""
        rect, state, palette = option.rect, option.state.value, option.palette
        selected = bool(state & _SELECTED)
        if selected:
            painter.fillRect(rect, palette.brush(QPalette.ColorRole.Highlight))
        text, colour, right = self._shots.cell(index.row(), index.column())
        if text:
            role = QPalette.ColorRole.HighlightedText if selected else QPalette.ColorRole.Text
            painter.setPen(QColor(colour) if colour and not selected else palette.color(role))
            room = rect.adjusted(_PADDING_PX, 0, -_PADDING_PX, 0)
            metrics = option.fontMetrics
            if len(text) * metrics.averageCharWidth() > room.width() * 0.7:
                text = metrics.elidedText(text, Qt.TextElideMode.ElideRight, room.width())
            painter.setFont(option.font)
            painter.drawText(room, _RIGHT if right else _LEFT, text)
        if state & _FOCUS and not selected:
            painter.setPen(palette.color(QPalette.ColorRole.Highlight))
            painter.drawRect(rect.adjusted(0, 0, -1, -1))
