"""Tags: what the next shots are labelled with, edited in place, completed from what was used before."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import button, heading, quiet
from benchtemp.window.panels.subject import last_shot, under_way
from benchtemp.window.panels.tag_fields import TagFields
from benchtemp.window.panels.tag_row import USUAL_TAGS, TagKind

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.units import TempUnit

_USUAL = {kind.name: kind for kind in USUAL_TAGS}


class TagsPanel(Panel):
    """Edits the tags that hold from here on.

    Signals:
        entered: Text of a `set` mark: `tag.coffee=house blend`; an empty value takes the tag away.
    """

    entered = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Tags")
        self._shown: dict[str, str] = {}
        self._last_number: int | None = None
        self._last_change: tuple[str, str] | None = None
        self.fields = TagFields(always=USUAL_TAGS)
        self.fields.given.connect(self._tell)
        self.last_too_button = button("")
        self.last_too_button.setVisible(False)
        self.last_too_button.clicked.connect(self._give_last_too)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(6)
        column.addWidget(heading("Tags"))
        column.addWidget(quiet("For the shots that follow.", wrap=True))
        column.addWidget(self.fields)
        column.addWidget(self.last_too_button, 0, Qt.AlignmentFlag.AlignLeft)
        column.addStretch(1)
        self.setEnabled(False)

    def set_known(self, values: Mapping[str, Sequence[str]]) -> None:
        """Offer names and values used earlier, most recent first, for completion."""
        self.fields.set_known(values)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures among the tags in another unit."""
        super().set_unit(unit)
        self.fields.set_unit(unit)
        self._show_values()

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show the tags in force."""
        self.setEnabled(snapshot is not None)
        if snapshot is None:
            return
        if snapshot.tags != self._shown:
            self._shown = dict(snapshot.tags)
            self.fields.fit([TagKind(name, name) for name in self._shown if name not in _USUAL])
        self._show_values()
        shot = last_shot(snapshot)
        number = shot.number if shot is not None and not under_way(snapshot) else None
        if number != self._last_number:
            self._last_number = number
            self._last_change = None
            self.last_too_button.setVisible(False)

    def _show_values(self) -> None:
        for name in self.fields.names():
            self.fields.row(name).show_value(self._shown.get(name, ""))

    @Slot(str, str)
    def _tell(self, name: str, value: str) -> None:
        self.entered.emit(f"tag.{name}={value}")
        if self._last_number is not None:
            self._last_change = (name, value)
            words = _USUAL[name].label.partition(",")[0].lower() if name in _USUAL else name
            self.last_too_button.setText(f"Give shot {self._last_number} this {words} too")
            self.last_too_button.setVisible(True)

    @Slot()
    def _give_last_too(self) -> None:
        if self._last_change is None or self._last_number is None:
            return
        name, value = self._last_change
        self.entered.emit(f"shot {self._last_number} tag.{name}={value}")
        self._last_change = None
        self.last_too_button.setVisible(False)
