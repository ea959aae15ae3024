"""A list whose entries are ticked with Enter: Space is the pump's, here as elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QSizePolicy, QWidget

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent

_VALUE = Qt.ItemDataRole.UserRole


class TickList(QListWidget):
    """Chooses any number of entries.

    Signals:
        ticked: Another choice than before.
    """

    ticked = Signal()

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setWordWrap(True)
        self.setMinimumHeight(100)
        self.setSpacing(2)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        self.itemChanged.connect(self._tell)
        self.itemDoubleClicked.connect(self._toggle)

    def offer(self, title: str, detail: str, value: object, *, ticked: bool = False, tip: str = "") -> None:
        """Add an entry."""
        item = QListWidgetItem(f"{title}\n{detail}")
        item.setData(_VALUE, value)
        item.setToolTip(tip)
        item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
        item.setCheckState(Qt.CheckState.Checked if ticked else Qt.CheckState.Unchecked)
        self.addItem(item)

    @property
    def values(self) -> tuple[object, ...]:
        """Return the values of the entries ticked, in the order of the list."""
        items = (self.item(row) for row in range(self.count()))
        return tuple(item.data(_VALUE) for item in items if item.checkState() is Qt.CheckState.Checked)

    @Slot(QListWidgetItem)
    def _tell(self, _item: QListWidgetItem) -> None:
        self.ticked.emit()

    @Slot(QListWidgetItem)
    def _toggle(self, item: QListWidgetItem) -> None:
        on = item.checkState() is Qt.CheckState.Checked
        item.setCheckState(Qt.CheckState.Unchecked if on else Qt.CheckState.Checked)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Tick with Enter."""
        item = self.currentItem()
        if event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter} and item is not None:
            self._toggle(item)
            return
        super().keyPressEvent(event)
