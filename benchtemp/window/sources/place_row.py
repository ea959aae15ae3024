"""One value of a layout: where it stands and in which unit it is sent."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QWidget

from benchtemp.window.fields import TextField
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import button


class PlaceRow(QWidget):
    """Name, place and unit of a value, with a button that takes it away where that is possible.

    Signals:
        changed: The user changed place or unit.
        removed: The user wants it away.
    """

    changed = Signal()
    removed = Signal()

    def __init__(
        self,
        name: str,
        units: Sequence[tuple[str, str]],
        *,
        hint: str = "",
        removable: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.name = name
        label = QLabel(name)
        label.setMinimumWidth(label.fontMetrics().horizontalAdvance("Junction "))
        self.field = TextField(name=f"Place of {name}", hint=hint)
        self.field.textEdited.connect(self.changed)
        label.setBuddy(self.field)
        self.unit_choice = Choice(f"Unit of {name}", units, least_chars=3)
        self.unit_choice.activated.connect(self.changed)
        self.remove_button = button("✕", name=f"Remove {name}", look="flat", tip=f"Remove {name}")
        self.remove_button.setMaximumWidth(34)
        self.remove_button.clicked.connect(self.removed)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        row.addWidget(label)
        row.addWidget(self.field, 1)
        row.addWidget(self.unit_choice)
        row.addWidget(self.remove_button)
        self.remove_button.setVisible(removable)

    @property
    def place(self) -> str:
        """Return what is written as the place, without spaces around it."""
        return self.field.text().strip()

    @property
    def unit(self) -> str:
        """Return the unit chosen, as layouts write it."""
        return str(self.unit_choice.currentData())

    def show_place(self, place: str, unit: str) -> None:
        """Show another place and unit."""
        if place != self.field.text():
            self.field.setText(place)
        self.unit_choice.setCurrentIndex(max(self.unit_choice.findData(unit), 0))

    def set_removable(self, *, removable: bool) -> None:
        """Allow taking the value away, or not (the last one must stay)."""
        self.remove_button.setEnabled(removable)
