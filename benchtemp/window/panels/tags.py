"""Tags: what the next shots are labelled with, edited in place, completed from what was used before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import QStringListModel, Qt, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from benchtemp.shots.entries import TAG_LENGTH_MAX
from benchtemp.window.fields import TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.panels.subject import last_shot, under_way
from benchtemp.window.panels.tag_row import USUAL_TAGS, TagKind, TagRow, completer_for

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.units import TempUnit
    from benchtemp.window.fields import NumberField

_USUAL_NAMES = tuple(kind.name for kind in USUAL_TAGS)


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
        self._rows: dict[str, TagRow] = {}
        self._shown: dict[str, str] | None = None
        self._last_number: int | None = None
        self._last_change: tuple[TagKind, str] | None = None
        self._build()
        for kind in USUAL_TAGS:
            self._add_row(kind, free=False)
        self._order_tabs()
        self.setEnabled(False)

    def _build(self) -> None:
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(1, 1)

        self.new_name = TextField(name="Name of a new tag", hint="name")
        self.new_name.setMaxLength(40)
        self.new_value = TextField(name="Value of the new tag", hint="value")
        self.new_value.setMaxLength(TAG_LENGTH_MAX)
        self.add_button = button("Add", name="Add tag")
        self._names = QStringListModel(self)
        self.new_name.setCompleter(completer_for(self._names, self.new_name))
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
        column.addStretch(1)

    # -- showing -----------------------------------------------------------------------------------------

    def set_known(self, values: Mapping[str, Sequence[str]]) -> None:
        """Offer names and values used earlier, most recent first, for completion."""
        self._known = {name: tuple(used) for name, used in values.items()}
        self._names.setStringList(sorted(set(self._known) - set(_USUAL_NAMES)))
        for name, row in self._rows.items():
            row.model.setStringList(list(self._known.get(name, ())))

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures among the tags in another unit."""
        super().set_unit(unit)
        for name, row in self._rows.items():
            row.set_unit(unit)
            row.show_value((self._shown or {}).get(name, ""))

    def field(self, name: str) -> TextField | NumberField:
        """Return the field of a tag that is shown.

        Raises:
            KeyError: There is no such tag.
        """
        return self._rows[name].field

    def remove_button(self, name: str) -> QWidget | None:
        """Return the button that takes a free tag away; None for a usual one."""
        return self._rows[name].remove

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
            row.show_value(snapshot.tags.get(name, ""))
        shot = last_shot(snapshot)
        number = shot.number if shot is not None and not under_way(snapshot) else None
        if number != self._last_number:
            self._last_number = number
            self._last_change = None
            self.last_too_button.setVisible(False)

    def _fit_rows(self, tags: Mapping[str, str]) -> None:
        wanted = [*_USUAL_NAMES, *(name for name in tags if name not in _USUAL_NAMES)]
        if wanted == list(self._rows):
            return
        for name in [name for name in self._rows if name not in wanted]:
            row = self._rows.pop(name)
            for widget in row.widgets():
                self._grid.removeWidget(widget)
                widget.deleteLater()
            row.deleteLater()
        for name in wanted:
            if name not in self._rows:
                self._add_row(TagKind(name, name), free=True)
        self._order_tabs()

    def _add_row(self, kind: TagKind, *, free: bool) -> None:
        row = TagRow(kind, self, free=free)
        row.set_unit(self.unit)
        self._rows[kind.name] = row
        row.model.setStringList(list(self._known.get(kind.name, ())))
        line = self._grid.rowCount()
        self._grid.addWidget(row.label, line, 0)
        self._grid.addWidget(row.field, line, 1, 1, 1 if row.remove else 2)
        if row.remove:
            self._grid.addWidget(row.remove, line, 2)
        row.given.connect(self._take)
        row.complaint.connect(self.complaint.say)
        row.removed.connect(self._remove)

    def _order_tabs(self) -> None:
        order: list[QWidget] = []
        for row in self._rows.values():
            order.extend(row.widgets()[1:])
        order.extend([self.new_name, self.new_value, self.add_button, self.last_too_button])
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)

    # -- what the user does ------------------------------------------------------------------------------

    @Slot(str)
    def _take(self, value: str) -> None:
        row = self.sender()
        assert isinstance(row, TagRow)
        self._tell(row.kind, value)

    @Slot()
    def _remove(self) -> None:
        row = self.sender()
        assert isinstance(row, TagRow)
        self._tell(row.kind, "")
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
        self._tell(next((kind for kind in USUAL_TAGS if kind.name == name), TagKind(name, name)), value)

    def _tell(self, kind: TagKind, value: str) -> None:
        self.entered.emit(f"tag.{kind.name}={value}")
        if self._last_number is not None:
            self._last_change = (kind, value)
            words = kind.label.partition(",")[0].lower() if kind.name in _USUAL_NAMES else kind.name
            self.last_too_button.setText(f"Give shot {self._last_number} this {words} too")
            self.last_too_button.setVisible(True)

    @Slot()
    def _give_last_too(self) -> None:
        if self._last_change is None or self._last_number is None:
            return
        kind, value = self._last_change
        self.entered.emit(f"shot {self._last_number} tag.{kind.name}={value}")
        self._last_change = None
        self.last_too_button.setVisible(False)
