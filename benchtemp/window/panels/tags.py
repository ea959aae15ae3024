"""Tags: what the next shots are labelled with, edited in place, completed from what was used before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import QStringListModel, Qt, Signal, Slot
from PySide6.QtWidgets import QCompleter, QGridLayout, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from benchtemp.shots.entries import TAG_LENGTH_MAX
from benchtemp.window.fields import TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.panels.mirror import FieldMirror
from benchtemp.window.panels.subject import last_shot, under_way

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot

USUAL_TAGS = {
    "machine": "bar left",
    "coffee": "blend and roast date",
    "setpoint": "93 °C",
    "idle time": "10 min",
    "flush": "2 s, or none",
}
"""Tags always offered, with a hint of what to write."""


class _TagRow:
    """One tag: label, field with completion, and for a free one a button that takes it away."""

    def __init__(self, name: str, hint: str, *, free: bool) -> None:
        self.name = name
        self.label = QLabel(name)
        self.label.setTextFormat(Qt.TextFormat.PlainText)
        self.label.setToolTip(name)
        self.label.setMaximumWidth(110)
        self.field = TextField(name=f"Tag {name}", hint=hint)
        self.field.setMaxLength(TAG_LENGTH_MAX)
        self.label.setBuddy(self.field)
        self.mirror = FieldMirror(self.field)
        self.value = ""
        self.model = QStringListModel(self.field)
        self.field.setCompleter(_completer(self.model, self.field))
        self.remove: QPushButton | None = None
        if free:
            self.remove = button("✕", name=f"Remove tag {name}", look="flat", tip=f"Remove the tag {name}")
            self.remove.setMaximumWidth(34)

    def widgets(self) -> list[QWidget]:
        return [self.label, self.field, *([self.remove] if self.remove else [])]


def _completer(model: QStringListModel, parent: QWidget) -> QCompleter:
    completer = QCompleter(model, parent)
    completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
    completer.setFilterMode(Qt.MatchFlag.MatchContains)
    completer.setMaxVisibleItems(8)
    return completer


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
        self._known: dict[str, tuple[str, ...]] = {}
        self._rows: dict[str, _TagRow] = {}
        self._shown: dict[str, str] | None = None
        self._last_number: int | None = None
        self._last_change: tuple[str, str] | None = None

        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(1, 1)

        self.new_name = TextField(name="Name of a new tag", hint="new tag")
        self.new_name.setMaxLength(40)
        self.new_value = TextField(name="Value of the new tag", hint="value")
        self.new_value.setMaxLength(TAG_LENGTH_MAX)
        self.add_button = button("Add", name="Add tag")
        self._names = QStringListModel(self)
        self.new_name.setCompleter(_completer(self._names, self.new_name))
        self.new_name.returnPressed.connect(self.new_value.setFocus)
        self.new_value.returnPressed.connect(self._add)
        self.add_button.clicked.connect(self._add)
        adding = QHBoxLayout()
        adding.setSpacing(6)
        adding.addWidget(self.new_name, 2)
        adding.addWidget(self.new_value, 3)
        adding.addWidget(self.add_button)

        self.complaint = Sentence(look="bad", name="Tags")
        self.last_too_button = button("")
        self.last_too_button.setVisible(False)
        self.last_too_button.clicked.connect(self._give_last_too)

        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(6)
        column.addWidget(heading("Tags"))
        column.addWidget(quiet("For the shots that follow.", wrap=True))
        column.addLayout(self._grid)
        column.addLayout(adding)
        column.addWidget(self.complaint)
        column.addWidget(self.last_too_button, 0, Qt.AlignmentFlag.AlignLeft)
        for name, hint in USUAL_TAGS.items():
            self._add_row(name, hint, free=False)
        self._order_tabs()
        self.setEnabled(False)

    # -- showing -----------------------------------------------------------------------------------

    def set_known(self, values: Mapping[str, Sequence[str]]) -> None:
        """Offer names and values used earlier, most recent first, for completion."""
        self._known = {name: tuple(used) for name, used in values.items()}
        self._names.setStringList(sorted(set(self._known) - set(USUAL_TAGS)))
        for row in self._rows.values():
            row.model.setStringList(list(self._known.get(row.name, ())))

    def field(self, name: str) -> TextField:
        """Return the field of a tag that is shown.

        Raises:
            KeyError: There is no such tag.
        """
        return self._rows[name].field

    def names(self) -> tuple[str, ...]:
        """Return the names of the tags shown, in their order."""
        return tuple(self._rows)

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show the tags in force."""
        self.setEnabled(snapshot is not None)
        if snapshot is None:
            return
        if snapshot.tags != self._shown:
            self._shown = dict(snapshot.tags)
            self._fit_rows(self._shown)
        for name, row in self._rows.items():
            row.mirror.follow(snapshot.tags.get(name, ""))
            if not row.mirror.editing:
                row.value = snapshot.tags.get(name, "")
        shot = last_shot(snapshot)
        number = shot.number if shot is not None and not under_way(snapshot) else None
        if number != self._last_number:
            self._last_number = number
            self._last_change = None
            self.last_too_button.setVisible(False)

    def _fit_rows(self, tags: Mapping[str, str]) -> None:
        wanted = [*USUAL_TAGS, *(name for name in tags if name not in USUAL_TAGS)]
        if wanted == list(self._rows):
            return
        for name in [name for name in self._rows if name not in wanted]:
            row = self._rows.pop(name)
            for widget in row.widgets():
                self._grid.removeWidget(widget)
                widget.deleteLater()
        for name in wanted:
            if name not in self._rows:
                self._add_row(name, "", free=True)
        self._order_tabs()

    def _add_row(self, name: str, hint: str, *, free: bool) -> None:
        row = _TagRow(name, hint, free=free)
        self._rows[name] = row
        row.model.setStringList(list(self._known.get(name, ())))
        line = self._grid.rowCount()
        self._grid.addWidget(row.label, line, 0)
        self._grid.addWidget(row.field, line, 1, 1, 1 if row.remove else 2)
        if row.remove:
            self._grid.addWidget(row.remove, line, 2)
            row.remove.clicked.connect(self._remove)
        row.field.editingFinished.connect(self._take)
        row.field.completer().activated.connect(self._take_completed)

    def _order_tabs(self) -> None:
        order: list[QWidget] = []
        for row in self._rows.values():
            order.extend(row.widgets()[1:])
        order.extend([self.new_name, self.new_value, self.add_button, self.last_too_button])
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)

    # -- what the user does ------------------------------------------------------------------------

    def _row_with(self, widget: object) -> _TagRow | None:
        return next((row for row in self._rows.values() if widget in (row.field, row.remove)), None)

    @Slot()
    def _take(self) -> None:
        row = self._row_with(self.sender())
        if row is not None:
            self._give(row)

    @Slot()
    def _take_completed(self) -> None:
        completer = self.sender()
        row = self._row_with(completer.parent() if completer is not None else None)
        if row is not None:
            self._give(row)

    def _give(self, row: _TagRow) -> None:
        value = " ".join(row.field.text().split())
        row.field.setModified(False)
        if value == row.value:
            return
        row.value = value
        row.mirror.await_bench()
        self._tell(row.name, value)

    @Slot()
    def _remove(self) -> None:
        row = self._row_with(self.sender())
        if row is not None:
            self._tell(row.name, "")
            self.new_name.setFocus()

    @Slot()
    def _add(self) -> None:
        name = " ".join(self.new_name.text().split())
        value = " ".join(self.new_value.text().split())
        if not name or not value:
            self.complaint.say("A new tag needs a name and a value, such as 'basket' and 'ridged, 18 g'.")
            (self.new_value if name else self.new_name).setFocus()
            return
        if "=" in name:
            self.complaint.say("The name of a tag cannot hold '='; write it without.")
            self.new_name.setFocus()
            return
        self.complaint.say("")
        self.new_name.clear()
        self.new_value.clear()
        self.new_name.setFocus()
        self._tell(name, value)

    def _tell(self, name: str, value: str) -> None:
        self.entered.emit(f"tag.{name}={value}")
        if self._last_number is not None:
            self._last_change = (name, value)
            self.last_too_button.setText(f"Give shot {self._last_number} this {name} too")
            self.last_too_button.setVisible(True)

    @Slot()
    def _give_last_too(self) -> None:
        if self._last_change is None or self._last_number is None:
            return
        name, value = self._last_change
        self.entered.emit(f"shot {self._last_number} tag.{name}={value}")
        self._last_change = None
        self.last_too_button.setVisible(False)
