"""The tags of what is chosen in the list, edited in place: of one file, or of many at once."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import QStringListModel, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from benchtemp.shots.entries import TAG_LENGTH_MAX
from benchtemp.window.fields import TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.panels.tag_row import USUAL_TAGS, TagKind, TagRow, completer_for

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from benchtemp.units import TempUnit

ROWS_MAX = 24
SEVERAL = "several values"
_KINDS = {kind.name: kind for kind in USUAL_TAGS}


class TagEditor(Panel):
    """One row for each tag. A value is taken with Enter or when its field is left.

    Signals:
        given: Name and value; an empty value takes the tag away.
    """

    given = Signal(str, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._known: dict[str, tuple[str, ...]] = {}
        self._rows: dict[str, TagRow] = {}
        self._kinds: list[TagKind] = []
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(6)
        self._grid.setVerticalSpacing(3)
        self._grid.setColumnStretch(1, 1)
        self.new_name = TextField(name="Name of a new tag", hint="new tag")
        self.new_name.setMaxLength(40)
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
        self._more = quiet(wrap=True)
        adding = QHBoxLayout()
        adding.setSpacing(6)
        adding.addWidget(self.new_name, 2)
        adding.addWidget(self.new_value, 3)
        adding.addWidget(self.add_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addLayout(self._grid)
        column.addWidget(self._more)
        column.addLayout(adding)
        column.addWidget(self.complaint)
        self._more.hide()

    # -- showing -------------------------------------------------------------------------------------------

    def set_known(self, values: Mapping[str, Sequence[str]]) -> None:
        """Offer names and values that occur, most used first."""
        self._known = {name: tuple(used) for name, used in values.items()}
        self._names.setStringList(list(self._known))
        for name, row in self._rows.items():
            row.model.setStringList(list(self._known.get(name, ())))

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures among the tags in another unit."""
        super().set_unit(unit)
        for row in self._rows.values():
            row.set_unit(unit)

    def show_tags(self, tags: Sequence[Mapping[str, str]]) -> None:
        """Show the tags of files, each file's by name; a value is shown where all files have the same."""
        names = dict.fromkeys(name for one in tags for name in one)
        found = {name: {one.get(name, "") for one in tags} for name in list(names)[:ROWS_MAX]}
        kinds = [_kind(name, values) for name, values in found.items()]
        if kinds != self._kinds:
            self._fit_rows(kinds)
        for name, values in found.items():
            row = self._rows[name]
            same = len(values) == 1
            row.show_value(next(iter(values)) if same else "")
            row.field.setPlaceholderText(row.kind.hint if same else SEVERAL)
        left = len(names) - len(found)
        self._more.setText(f"{left} more tags are not shown; name one below to change it.")
        self._more.setVisible(left > 0)
        self.complaint.say("")

    def start_over(self) -> None:
        """Forget what is being typed: other files are shown from here on."""
        for row in self._rows.values():
            row.field.setModified(False)
            row.mirror.start_over()
        self.new_name.clear()
        self.new_value.clear()

    def names(self) -> tuple[str, ...]:
        """Return the names of the tags shown."""
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
        (self.new_name if first is None else first.field).setFocus()

    def _fit_rows(self, kinds: list[TagKind]) -> None:
        focused = next((name for name, row in self._rows.items() if row.field.hasFocus()), None)
        for row in self._rows.values():
            for widget in row.widgets():
                self._grid.removeWidget(widget)
                widget.hide()
                widget.deleteLater()
            row.deleteLater()
        self._rows.clear()
        self._kinds = kinds
        for line, kind in enumerate(kinds):
            row = TagRow(kind, self, free=True)
            row.set_unit(self.unit)
            row.model.setStringList(list(self._known.get(kind.name, ())))
            for column, widget in enumerate(row.widgets()):
                self._grid.addWidget(widget, line, column)
            row.given.connect(self._take)
            row.removed.connect(self._remove)
            row.complaint.connect(self.complaint.say)
            self._rows[kind.name] = row
        order: list[QWidget] = [widget for row in self._rows.values() for widget in row.widgets()[1:]]
        for before, after in pairwise([*order, self.new_name, self.new_value, self.add_button]):
            QWidget.setTabOrder(before, after)
        if focused is not None:
            self.take_focus() if focused not in self._rows else self._rows[focused].field.setFocus()

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

    @Slot(str)
    def _offer_values(self, name: str) -> None:
        self._values.setStringList(list(self._known.get(name.strip(), ())))

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
        self.given.emit(name, value)


def _kind(name: str, values: set[str]) -> TagKind:
    """Return how a tag is shown: as a number only where that shows all that is written."""
    kind = _KINDS.get(name)
    if kind is not None and kind.high is not None:
        for value in values - {""}:
            try:
                number = float(value)
            except ValueError:
                number = float("nan")
            if not 0 <= number <= kind.high:
                return TagKind(name, name)
    return kind or TagKind(name, name)
