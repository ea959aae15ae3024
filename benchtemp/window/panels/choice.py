"""A drop-down choice that looks like one in both themes, and keeps still under a turning wheel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QHelpEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QComboBox, QStyle, QStyleOptionComboBox, QStylePainter, QToolTip, QWidget

if TYPE_CHECKING:
    from collections.abc import Iterable

    from PySide6.QtGui import QWheelEvent

_ARROW_PX = 4.0
DECIMAL_SIGNS = ((".", "point"), (",", "comma"))
"""What may stand before decimals, as entries of a choice."""


class Choice(QComboBox):
    """Chooses among named values."""

    def __init__(
        self,
        name: str,
        entries: Iterable[tuple[object, str]] = (),
        *,
        least_chars: int = 10,
        parent: QWidget | None = None,
    ) -> None:
        """Build the choice.

        Args:
            name: Accessible name.
            entries: Values with their texts.
            least_chars: How many characters it has room for at least.
            parent: Widget it belongs to.
        """
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(least_chars)
        for value, text in entries:
            self.addItem(text, value)

    def select(self, value: object) -> None:
        """Choose a value; one that is not offered yet is added as it is."""
        index = self.findData(value)
        if index < 0:
            self.addItem(str(value), value)
            index = self.count() - 1
        self.setCurrentIndex(index)

    def offer(self, entries: Iterable[tuple[object, str]]) -> None:
        """Offer other values; what is chosen stays chosen if it is among them, else the first is."""
        before = self.currentData()
        self.clear()
        for value, text in entries:
            self.addItem(text, value)
        self.setCurrentIndex(max(0, self.findData(before)) if self.count() else -1)

    def event(self, event: QEvent) -> bool:
        """Show the whole of a text that may be cut off, where no other tip is given."""
        if event.type() is QEvent.Type.ToolTip and isinstance(event, QHelpEvent) and not self.toolTip():
            QToolTip.showText(event.globalPos(), self.currentText(), self)
            return True
        return super().event(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Turn only while it has the focus: a scrolled page must not change what was chosen."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw the text as far as there is room, and the arrow that style sheets leave out."""
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        part = QStyle.SubControl.SC_ComboBoxEditField
        whole = QStyle.ComplexControl.CC_ComboBox
        room = self.style().subControlRect(whole, option, part, self).width() - 4
        option.currentText = self.fontMetrics().elidedText(
            self.currentText(), Qt.TextElideMode.ElideRight, room
        )
        styled = QStylePainter(self)
        styled.drawComplexControl(whole, option)
        styled.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
        styled.end()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        role = self.palette().ColorRole.Text
        painter.setPen(QPen(self.palette().color(role), 1.5))
        x, y, size = self.width() - 13.0, self.height() / 2, _ARROW_PX
        painter.drawPolyline(
            QPolygonF(
                [
                    QPointF(x - size, y - size / 2),
                    QPointF(x, y + size / 2),
                    QPointF(x + size, y - size / 2),
                ]
            )
        )
        painter.end()
