"""A button that opens a menu below it; Enter opens it too."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Signal, Slot
from PySide6.QtWidgets import QMenu, QPushButton, QWidget


class MenuButton(QPushButton):
    """Opens a menu whose entries are made anew each time.

    Signals:
        wanted: The menu is about to be shown; make its entries in `entries`.
    """

    wanted = Signal()

    def __init__(self, text: str, name: str, parent: QWidget | None = None) -> None:
        super().__init__(f"{text} ▾", parent)
        self.setAccessibleName(name)
        self.setAutoDefault(True)
        self.entries = QMenu(self)
        self.clicked.connect(self.open)

    @Slot()
    def open(self) -> None:
        """Open the menu."""
        self.entries.clear()
        self.wanted.emit()
        height = self.entries.sizeHint().height()
        below = self.mapToGlobal(QPoint(0, self.height()))
        room = self.screen().availableGeometry()
        fits = below.y() + height <= room.bottom()
        self.entries.popup(below if fits else self.mapToGlobal(QPoint(0, -height)))
        if self.entries.actions():
            self.entries.setActiveAction(self.entries.actions()[0])
