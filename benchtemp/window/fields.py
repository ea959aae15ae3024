"""Fields to type into: for words, which keeps Space, and for numbers, which leaves Space to the pump."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from benchtemp.window.theme import repolish

if TYPE_CHECKING:
    from PySide6.QtGui import QFocusEvent


class TextField(QLineEdit):
    """A line of words. Space types a space here; Enter takes the text (`returnPressed`)."""

    def __init__(self, parent: QWidget | None = None, *, name: str = "", hint: str = "") -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setPlaceholderText(hint)


class NumberField(QLineEdit):
    """A number, with a point or a comma. Space is left to the pump.

    What is typed is taken with Enter or when the field is left; what cannot be read stays, marked as wrong,
    and `complaint` says why. Esc drops it and puts the value back.

    Signals:
        taken: A new value was taken: a float, or None for an emptied field.
        complaint: A sentence on what is wrong, empty when all is well again.
        entered: Enter was pressed, and what stands in the field is taken.
    """

    taken = Signal(object)
    entered = Signal()
    complaint = Signal(str)

    def __init__(
        self,
        parent: QWidget | None = None,
        *,
        name: str = "",
        hint: str = "",
        low: float = 0.0,
        high: float = 1e6,
        decimals: int = 1,
        may_be_empty: bool = True,
    ) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setPlaceholderText(hint)
        self._name = name or "value"
        self._low = low
        self._high = high
        self._decimals = decimals
        self._may_be_empty = may_be_empty
        self._value: float | None = None
        self.returnPressed.connect(self._enter)
        self.editingFinished.connect(self._take)

    @property
    def value(self) -> float | None:
        """Return the value last taken or shown."""
        return self._value

    def show_value(self, value: float | None) -> None:
        """Show a value from outside; a field being typed into is left alone."""
        if value == self._value and not self._wrong():
            return
        if self.hasFocus() and self.isModified():
            return
        self._value = value
        self.setText(self._written(value))
        self._mark_wrong("")

    def set_range(self, low: float, high: float) -> None:
        """Take other limits (for instance after a change of unit)."""
        self._low, self._high = low, high

    def event(self, event: QEvent) -> bool:
        """Leave Space and plain letters to the window's keys: no number needs them."""
        if event.type() is QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            plain = not event.modifiers() & ~Qt.KeyboardModifier.ShiftModifier
            text = event.text()
            if plain and (text.isspace() or text.isalpha() or text == "?"):
                if event.key() == Qt.Key.Key_Space:
                    self._take()  # what was typed before the pump was pressed holds for the shot
                event.ignore()
                return False
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Drop what cannot be read with Esc; leaving the field is the page's."""
        if event.key() == Qt.Key.Key_Escape:
            self._take()
            if self._wrong():
                self.setText(self._written(self._value))
                self._mark_wrong("")
            event.ignore()
            return
        super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Select all, so that typing replaces the old value."""
        super().focusInEvent(event)
        self.selectAll()

    def go_to(self) -> None:
        """Take the focus with all selected, also where the field has it already."""
        self.setFocus()
        self.selectAll()

    def _written(self, value: float | None) -> str:
        if value is None or not isfinite(value):
            return ""
        return f"{value:.{self._decimals}f}".rstrip("0").rstrip(".") if self._decimals else f"{value:.0f}"

    def _wrong(self) -> bool:
        return bool(self.property("wrong"))

    def _mark_wrong(self, sentence: str) -> None:
        if self._wrong() != bool(sentence):
            self.setProperty("wrong", bool(sentence))
            repolish(self)
        self.complaint.emit(sentence)

    @Slot()
    def _enter(self) -> None:
        # Enter is told before the end of editing: whoever hears of it must find the value taken.
        self._take()
        if self._wrong():
            self.selectAll()  # the next figure typed takes its place
        else:
            self.entered.emit()

    @Slot()
    def _take(self) -> None:
        if not self.isModified():
            return
        text = self.text().strip().replace(",", ".")
        value: float | None = None
        if text:
            try:
                value = float(text)
            except ValueError:
                value = float("nan")
            if not isfinite(value) or not self._low <= value <= self._high:
                self._mark_wrong(
                    f"'{self.text()}' is no {self._name}; give a number from {self._low:g} to {self._high:g}."
                )
                return
        elif not self._may_be_empty:
            self._mark_wrong(f"The {self._name} cannot be empty; give a number.")
            return
        self.setModified(False)
        self._mark_wrong("")
        self.setText(self._written(value))
        if value != self._value:
            self._value = value
            self.taken.emit(value)
