"""One tag on the screen: its label, and a field for words or for a number."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QObject, QStringListModel, Qt, Signal, Slot
from PySide6.QtWidgets import QCompleter, QLabel, QPushButton, QWidget

from benchtemp.shots.entries import TAG_LENGTH_MAX
from benchtemp.units import TempUnit, degc_from, degc_to
from benchtemp.window.fields import NumberField, TextField
from benchtemp.window.panels.labels import button
from benchtemp.window.panels.mirror import FieldMirror


@dataclass(frozen=True, slots=True)
class TagKind:
    """What is known of a tag.

    Attributes:
        name: As it is kept; the unit of a number stands in it.
        label: What the panel calls it, without a unit of temperature.
        hint: What to write, for a text.
        high: Highest value, for a number; None for words.
        is_degc: Whether the number is a temperature, kept in °C and shown in the unit chosen.
    """

    name: str
    label: str
    hint: str = ""
    high: float | None = None
    is_degc: bool = False

    @property
    def is_number(self) -> bool:
        """Tell whether it holds a number."""
        return self.high is not None


USUAL_TAGS = (
    TagKind("machine", "Machine", "which one"),
    TagKind("coffee", "Coffee", "blend, roast date"),
    TagKind("setpoint_degc", "Setpoint", high=200.0, is_degc=True),
    TagKind("idle_min", "Idle time, min", high=100_000.0),
    TagKind("flush_s", "Flush, s", high=600.0),
)
"""Tags always offered. Numbers carry their unit in the name, so that shots can be compared by them."""


def completer_for(model: QStringListModel, parent: QWidget) -> QCompleter:
    """Return a completer that finds what was used before by any part of it."""
    completer = QCompleter(model, parent)
    completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
    completer.setFilterMode(Qt.MatchFlag.MatchContains)
    completer.setMaxVisibleItems(8)
    return completer


class TagRow(QObject):
    """Shows a tag's value and tells a new one.

    Signals:
        given: The value as it is kept, empty for none.
        complaint: A sentence on a number that cannot be read, empty when all is well.
        removed: The tag itself is to go.
    """

    given = Signal(str)
    complaint = Signal(str)
    removed = Signal()

    def __init__(self, kind: TagKind, parent: QObject, *, free: bool) -> None:
        super().__init__(parent)
        self.kind = kind
        self.unit = TempUnit.DEGC
        self.label = QLabel()
        self.label.setTextFormat(Qt.TextFormat.PlainText)
        self.label.setMaximumWidth(self.label.fontMetrics().averageCharWidth() * 18)
        self.model = QStringListModel(self)
        self.field: NumberField | TextField
        if kind.is_number:
            number = NumberField(name=kind.label.partition(",")[0].lower())
            number.taken.connect(self._take_number)
            number.complaint.connect(self.complaint)
            self.field = number
        else:
            text = TextField(name=f"Tag {kind.name}", hint=kind.hint)
            text.setMaxLength(TAG_LENGTH_MAX)
            text.setCompleter(completer_for(self.model, text))
            text.completer().activated.connect(self._take_text)
            text.editingFinished.connect(self._take_text)
            self.field = text
        self.label.setBuddy(self.field)
        self.mirror = FieldMirror(self.field)
        self._value = ""
        self.remove: QPushButton | None = None
        if free:
            self.remove = button("✕", name=f"Remove tag {kind.name}", look="flat", tip=f"Remove {kind.name}")
            self.remove.setMaximumWidth(34)
            self.remove.clicked.connect(self.removed)
        self.set_unit(self.unit)

    def widgets(self) -> list[QWidget]:
        """Return label, field and, for a free tag, the button that removes it."""
        return [self.label, self.field, *([self.remove] if self.remove else [])]

    def set_unit(self, unit: TempUnit) -> None:
        """Show a temperature in another unit."""
        self.unit = unit
        text = f"{self.kind.label}, {unit.symbol}" if self.kind.is_degc else self.kind.label
        metrics = self.label.fontMetrics()
        self.label.setText(metrics.elidedText(text, Qt.TextElideMode.ElideRight, self.label.maximumWidth()))
        self.label.setToolTip(text if self.kind.is_number else self.kind.name)
        if isinstance(self.field, NumberField):
            assert self.kind.high is not None
            low, high = 0.0, self.kind.high
            if self.kind.is_degc:
                low, high = degc_to(low, unit), degc_to(high, unit)
            self.field.set_range(low, high)
            self.mirror.start_over()

    def show_value(self, value: str) -> None:
        """Show the value in force."""
        self.mirror.follow(self._number(value) if self.kind.is_number else value)
        if not self.mirror.editing:
            self._value = value

    def _number(self, value: str) -> float | None:
        try:
            number = float(value)
        except ValueError:
            return None
        return round(degc_to(number, self.unit), 1) if self.kind.is_degc else number

    @Slot()
    def _take_text(self) -> None:
        value = " ".join(self.field.text().split())
        self.field.setModified(False)
        if value != self._value:
            # Once it is given it is undone where it was given to, not letter by letter in the field.
            self.field.setText(value)
            self._give(value)

    @Slot(object)
    def _take_number(self, value: float | None) -> None:
        if value is not None and self.kind.is_degc:
            value = round(degc_from(value, self.unit), 2)
        self._give("" if value is None else f"{value:.10g}")

    def _give(self, value: str) -> None:
        self._value = value
        self.mirror.await_bench()
        self.given.emit(value)
