"""Lists whose entries have a title and a quieter line below it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPalette
from PySide6.QtWidgets import (
    QListWidget,
    QListWidgetItem,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from benchtemp.window.theme import LIGHT, Theme, scaled_font

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent

DETAIL = Qt.ItemDataRole.UserRole + 1
_PAD_PX = 6


class _TwoLines(QStyledItemDelegate):
    """Draws title and detail, each cut at its end if it must be; an entry without detail is a heading."""

    theme: Theme = LIGHT

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        rect: QRect = option.rect
        state = option.state
        palette: QPalette = option.palette
        title, detail = str(index.data() or ""), str(index.data(DETAIL) or "")
        chosen = bool(state & QStyle.StateFlag.State_Selected)
        painter.save()
        if chosen:
            painter.fillRect(rect, palette.color(QPalette.ColorRole.Highlight))
        ink = QColor(self.theme.on_accent if chosen else self.theme.text)
        soft = QColor(self.theme.on_accent if chosen else self.theme.soft)
        inner = rect.adjusted(_PAD_PX, _PAD_PX // 2, -_PAD_PX, -_PAD_PX // 2)
        bold = scaled_font(bold=True) if not detail else scaled_font()
        painter.setFont(bold)
        metrics = QFontMetrics(bold)
        painter.setPen(ink if detail else soft)
        painter.drawText(
            inner.x(),
            inner.y() + metrics.ascent(),
            metrics.elidedText(title, Qt.TextElideMode.ElideRight, inner.width()),
        )
        if detail:
            small = scaled_font(0.92)
            lower = QFontMetrics(small)
            painter.setFont(small)
            painter.setPen(soft)
            painter.drawText(
                inner.x(),
                inner.y() + metrics.height() + lower.ascent(),
                lower.elidedText(detail, Qt.TextElideMode.ElideRight, inner.width()),
            )
        painter.restore()

    def sizeHint(self, _option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        height = QFontMetrics(scaled_font()).height()
        if index.data(DETAIL):
            height += QFontMetrics(scaled_font(0.92)).height()
        return QSize(80, height + _PAD_PX)


class TwoLineList(QListWidget):
    """A list of titles with details; Enter activates the current entry on every system."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._delegate = _TwoLines(self)
        self.setItemDelegate(self._delegate)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._delegate.theme = theme
        self.viewport().update()

    def add(self, title: str, detail: str, tip: str = "") -> QListWidgetItem:
        """Add an entry that can be chosen, and return it."""
        item = QListWidgetItem(title)
        item.setData(DETAIL, detail)
        item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{title}, {detail}")
        item.setToolTip(tip)
        self.addItem(item)
        return item

    def add_heading(self, title: str) -> None:
        """Add a heading, which cannot be chosen."""
        item = QListWidgetItem(title)
        item.setFlags(Qt.ItemFlag.NoItemFlags)
        self.addItem(item)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Activate with Enter."""
        item = self.currentItem()
        if event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter} and item is not None:
            self.itemActivated.emit(item)
            return
        super().keyPressEvent(event)
