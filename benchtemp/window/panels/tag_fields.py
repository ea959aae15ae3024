"""Tags as fields: a row for each, and below them the fields for a new one."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import QStringListModel, Qt, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from benchtemp.shots.entries import TAG_LENGTH_MAX
from benchtemp.units import TempUnit
from benchtemp.window.fields import TextField
from benchtemp.window.panels.labels import Sentence, button
from benchtemp.window.panels.tag_row import TagKind, TagRow, completer_for

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from PySide6.QtGui import QShowEvent

_NAME_LENGTH_MAX = 40


class TagFields(QWidget):
    """Edits tags in place: a value is taken with Enter or when its field is left.

    Signals:
        given: Name and value; an empty value takes the tag away.
    """

    given = Signal(str, str)

    def __init__(self, parent: QWidget | None = None, *, always: Sequence[TagKind] = ()) -> None:
        """Build the fields.

        Args:
            parent: Widget they belong to.
            always: Tags whose rows are there whether they have a value or not.
        """
        super().__init__(parent)
        self._always = tuple(always)
        self._known: dict[str, tuple[str, ...]] = {}
        self._rows: dict[str, TagRow] = {}
        self._unit = TempUnit.DEGC
        self._editable = True
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(6)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(1, 1)
        self.new_name = TextField(name="Name of a new tag", hint="tag")
        self.new_name.setMaxLength(_NAME_LENGTH_MAX)
        self.new_value = TextField(name="Value of the new tag", hint="value")
        self.new_value.setMaxLength(TAG_LENGTH_MAX)
        self.add_button = button("Add", name="Add tag")
        self._names, self._values = QStringListModel(self), QStringListModel(self)
        self.new_name.setCompleter(completer_for(self._names, self.new_name))
        self.new_value.setCompleter(completer_for(self._values, self.new_value))
        self.new_name.returnPressed.connect(self.new_value.setFocus)
        self.new_name.textChanged.connect(self._offer_values)
        self.new_value.returnPressed.connect(self._add)
        self.add_button.clicked.connect(self._add)
        self.complaint = Sentence(look="bad", name="Tags")
        self._new = QWidget()
        adding = QHBoxLayout(self._new)
        adding.setContentsMargins(0, 0, 0, 0)
        adding.setSpacing(6)
        adding.addWidget(self.new_name, 2)
        adding.addWidget(self.new_value, 3)
        adding.addWidget(self.add_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(5)
        column.addLayout(self._grid)
        column.addWidget(self._new)
        column.addWidget(self.complaint)
        self.fit(())

    # -- showing -------------------------------------------------------------------------------------------

    def set_known(self, values: Mapping[str, Sequence[str]]) -> None:
        """Offer names and values that were used before."""
        self._known = {name: tuple(used) for name, used in values.items()}
        for name, row in self._rows.items():
            row.model.setStringList(list(self._known.get(name, ())))
        self._offer_names()

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit, from the next values shown on."""
        self._unit = unit
        for row in self._rows.values():
            row.set_unit(unit)

    def set_editable(self, *, editable: bool) -> None:
        """Let the tags be changed, or only be read."""
        self._editable = editable
        self._new.setVisible(editable)
        for row in self._rows.values():
            self._let_edit(row)

    def fit(self, kinds: Sequence[TagKind]) -> None:
        """Have a row for each of these tags, after those that are always there."""
        wanted = {kind.name: kind for kind in (*self._always, *kinds)}
        if [row.kind for row in self._rows.values()] == list(wanted.values()):
            return
        had_focus = self._has_focus()
        before, self._rows = self._rows, {}
        for name, row in before.items():
            for widget in row.widgets():
                self._grid.removeWidget(widget)
            if wanted.get(name) != row.kind:
                self._throw_away(row)
        for line, (name, kind) in enumerate(wanted.items()):
            kept = before.get(name)
            row = kept if kept is not None and kept.kind == kind else self._made(kind)
            self._rows[name] = row
            self._grid.addWidget(row.label, line, 0)
            self._grid.addWidget(row.field, line, 1, 1, 1 if row.remove else 2)
            if row.remove:
                self._grid.addWidget(row.remove, line, 2)
            self._let_edit(row)
        self._order_tabs()
        self._offer_names()
        if had_focus and not self._has_focus():
            self.new_name.setFocus()

    def _has_focus(self) -> bool:
        """Tell whether one of the rows has the focus."""
        return any(widget.hasFocus() for row in self._rows.values() for widget in row.widgets())

    def _made(self, kind: TagKind) -> TagRow:
        row = TagRow(kind, self, free=kind not in self._always)
        row.set_unit(self._unit)
        row.model.setStringList(list(self._known.get(kind.name, ())))
        row.given.connect(self._take)
        row.complaint.connect(self.complaint.say)
        row.removed.connect(self._remove)
        return row

    @staticmethod
    def _throw_away(row: TagRow) -> None:
        for widget in row.widgets():
            widget.hide()
            widget.deleteLater()
        row.deleteLater()

    def _let_edit(self, row: TagRow) -> None:
        row.field.setReadOnly(not self._editable)
        if row.remove:
            row.remove.setVisible(self._editable)

    def showEvent(self, event: QShowEvent) -> None:
        """Order Tab anew: on their way into a window widgets lose the order they had."""
        super().showEvent(event)
        self._order_tabs()

    def _order_tabs(self) -> None:
        """Let Tab go through the rows, and then to the new tag, whose place among other widgets stays."""
        rows: list[QWidget] = [widget for row in self._rows.values() for widget in row.widgets()[1:]]
        first = self._before_new(rows)
        ordered = [*rows, self.new_name] if first is None else [first, *rows]
        for before, after in (
            *pairwise(ordered),
            *pairwise((self.new_name, self.new_value, self.add_button)),
        ):
            QWidget.setTabOrder(before, after)

    def _before_new(self, rows: Sequence[QWidget]) -> QWidget | None:
        """Return what Tab leaves before it comes to the tags, None where nothing is there."""
        found = self.new_name.previousInFocusChain()
        while found is not None and (found in rows or found.focusPolicy() is Qt.FocusPolicy.NoFocus):
            found = found.previousInFocusChain()
        return None if found is self.new_name else found

    def _offer_names(self) -> None:
        self._names.setStringList([name for name in self._known if name not in self._rows])

    @Slot(str)
    def _offer_values(self, name: str) -> None:
        self._values.setStringList(list(self._known.get(name.strip(), ())))

    # -- what is there -------------------------------------------------------------------------------------

    def names(self) -> tuple[str, ...]:
        """Return the names of the tags shown, in their order."""
        return tuple(self._rows)

    def row(self, name: str) -> TagRow:
        """Return the row of a tag that is shown.

        Raises:
            KeyError: There is none.
        """
        return self._rows[name]

    def take_focus(self) -> None:
        """Go to the first tag, or to where one is added."""
        first = next(iter(self._rows.values()), None)
        field = self.new_name if first is None else first.field
        field.setFocus(Qt.FocusReason.TabFocusReason)  # all is selected, as for whoever comes by Tab

    # -- what the user does --------------------------------------------------------------------------------

    @Slot(str)
    def _take(self, value: str) -> None:
        row = self.sender()
        assert isinstance(row, TagRow)
        self.given.emit(row.kind.name, value)

    @Slot()
    def _remove(self) -> None:
        row = self.sender()
        assert isinstance(row, TagRow)
        self.new_name.setFocus()
        self.given.emit(row.kind.name, "")

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
        self.clear_new()
        self.new_name.setFocus()
        self.given.emit(name, value)

    def clear_new(self) -> None:
        """Empty the fields for a new tag."""
        self.new_name.clear()
        self.new_value.clear()
