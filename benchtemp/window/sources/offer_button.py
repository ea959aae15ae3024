"""A button with a title and a line of explanation."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from benchtemp.window.theme import scaled_font

if TYPE_CHECKING:
    from PySide6.QtGui import QResizeEvent


class OfferButton(QPushButton):
    """Something that can be begun at once; Enter presses it."""

    def __init__(self, title: str, detail: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAutoDefault(True)
        self.setAccessibleName(title)
        self.setAccessibleDescription(detail)
        self._title = QLabel(title)
        self._title.setFont(scaled_font(bold=True))
        self._detail = QLabel(detail)
        self._detail.setProperty("look", "quiet")
        self._detail.setWordWrap(True)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 7, 12, 7)
        column.setSpacing(1)
        for label in (self._title, self._detail):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            column.addWidget(label)  # before it is shown: a label without a parent would flash as a window
            label.setVisible(bool(label.text()))
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def set_texts(self, title: str, detail: str) -> None:
        """Say something else."""
        self._title.setText(title)
        self._detail.setText(detail)
        self._title.setVisible(bool(title))
        self._detail.setVisible(bool(detail))
        self.setAccessibleName(title)
        self.setAccessibleDescription(detail)
        self.updateGeometry()

    def hasHeightForWidth(self) -> bool:
        """Tell that the explanation wraps."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height the wrapped texts need."""
        layout = self.layout()
        assert layout is not None
        return layout.totalHeightForWidth(width)

    def sizeHint(self) -> QSize:
        """Return a size with the explanation on one or two lines."""
        least = max(200, self._title.sizeHint().width() + 28)
        return QSize(least, self.heightForWidth(max(self.width(), least)))

    def minimumSizeHint(self) -> QSize:
        """Return the least size; the height is right for the width there is."""
        return QSize(140, self.heightForWidth(max(self.width(), 140)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Ask for another height when the width changes."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.updateGeometry()
