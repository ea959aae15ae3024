"""Keeping a field and the bench in step without pulling text away under somebody's fingers."""

from __future__ import annotations

import time
from math import inf
from typing import TYPE_CHECKING

from benchtemp.window.fields import NumberField

if TYPE_CHECKING:
    from PySide6.QtWidgets import QLineEdit

_SETTLES_S = 1.0
_UNSEEN = object()


class FieldMirror:
    """Shows in a field what the bench holds, whenever that changes.

    A value on its way to the bench must not be overwritten by the old one, a text being typed not by any,
    and what could not be read stays until the bench has something new. A second after something was taken
    the bench's value is shown whatever happened to it (it may have been refused).
    """

    def __init__(self, field: QLineEdit) -> None:
        self._field = field
        self._seen: object = _UNSEEN
        self._settled_at_s = inf

    @property
    def editing(self) -> bool:
        """Tell whether somebody is typing into the field."""
        return self._field.hasFocus() and self._field.isModified()

    def follow(self, value: float | str | None) -> None:
        """Show the bench's value if it is news."""
        if time.monotonic() >= self._settled_at_s and not self._field.property("wrong"):
            self.start_over()
        if value == self._seen or self.editing:
            return
        self._seen = value
        if isinstance(self._field, NumberField):
            assert not isinstance(value, str)
            self._field.show_value(value)
        elif (text := str(value or "")) != self._field.text():
            self._field.setText(text)
            self._field.setCursorPosition(0)

    def await_bench(self) -> None:
        """Give the bench a moment to take what the field has just given."""
        self._settled_at_s = time.monotonic() + _SETTLES_S

    def start_over(self) -> None:
        """Show whatever comes next: the field is about something else from here on."""
        self._settled_at_s = inf
        self._seen = _UNSEEN
