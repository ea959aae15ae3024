"""The tags of what is chosen in the list, edited in place: of one file, or of many at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import quiet
from benchtemp.window.panels.tag_fields import TagFields
from benchtemp.window.panels.tag_row import USUAL_TAGS, TagKind

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from collections.abc import Set as AbstractSet

    from benchtemp.units import TempUnit

ROWS_MAX = 24
SEVERAL = "several values"
_KINDS = {kind.name: kind for kind in USUAL_TAGS}


class TagEditor(Panel):
    """Shows the tags that files have; a value is shown where all of them have the same.

    Signals:
        given: Name and value; an empty value takes the tag away.
    """

    given = Signal(str, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.fields = TagFields()
        self.fields.given.connect(self.given)
        self._more = quiet(wrap=True)
        self._more.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.fields)
        column.addWidget(self._more)

    def set_known(self, values: Mapping[str, Sequence[str]]) -> None:
        """Offer names and values that occur, most used first."""
        self.fields.set_known(values)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures among the tags in another unit, from the next tags shown on."""
        super().set_unit(unit)
        self.fields.set_unit(unit)

    def show_tags(self, values: Mapping[str, AbstractSet[str]], *, editable: bool) -> None:
        """Show the tags of files, each with the values it has in them: the usual tags first."""
        names = [
            *(name for name in _KINDS if name in values),
            *(name for name in values if name not in _KINDS),
        ]
        found = {name: values[name] for name in names[:ROWS_MAX]}
        self.fields.fit([_kind(name, written) for name, written in found.items()])
        self.fields.set_editable(editable=editable)
        for name, written in found.items():
            row = self.fields.row(name)
            same = len(written) == 1
            row.show_value(next(iter(written)) if same else "")
            row.field.setPlaceholderText(row.kind.hint if same else SEVERAL)
        left = len(names) - len(found)
        self._more.setText(f"{left} more tags are not shown; name one above to change it.")
        self._more.setVisible(left > 0)
        self.fields.complaint.say("")

    def start_over(self) -> None:
        """Forget what is being typed: other files are shown from here on."""
        for name in self.fields.names():
            row = self.fields.row(name)
            row.field.setModified(False)
            row.mirror.start_over()
        self.fields.clear_new()

    @property
    def typing(self) -> bool:
        """Tell whether something is being typed that was not taken yet."""
        shown = (self.fields.row(name).field for name in self.fields.names())
        fields = (*shown, self.fields.new_name, self.fields.new_value)
        return any(field.hasFocus() and field.isModified() for field in fields)

    def commit(self) -> None:
        """Take what is being typed into a field as if it were left."""
        for name in self.fields.names():
            field = self.fields.row(name).field
            if field.hasFocus() and field.isModified():
                field.clearFocus()


def _kind(name: str, values: AbstractSet[str]) -> TagKind:
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
