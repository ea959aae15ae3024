"""Naming the fault of a machine, and what became of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.teaching.cases.fault import FAULT_TEXTS, SIZED, Diagnosis, Fault
from benchtemp.units import TempUnit, delta_to
from benchtemp.window.fields import NumberField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.theme import repolish

if TYPE_CHECKING:
    from benchtemp.teaching.cases.diagnosis import CaseMarking
    from benchtemp.window.theme import Theme

_NOT_YET = "choose"
_MOST_K = 20.0


class FaultNaming(Panel):
    """Takes the fault and, where it has one, its size.

    Signals:
        named: Carries the `Diagnosis`.
    """

    named = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Name the fault")
        offers = ((_NOT_YET, "Choose a fault"), *((str(fault), text) for fault, text in FAULT_TEXTS.items()))
        self.fault = Choice("The fault", offers, least_chars=24)
        self.amount_label = QLabel()
        self.amount = NumberField(
            name="size of the fault", hint="0.0", low=-_MOST_K, high=_MOST_K, decimals=2
        )
        self.amount.setFixedWidth(90)
        self.amount_unit = quiet("°C")
        self.complaint = Sentence(look="bad", name="Size of the fault")
        self.name_button = button("Name the fault", look="primary")
        row = QHBoxLayout()
        row.setSpacing(8)
        for widget in (self.fault, self.amount_label, self.amount, self.amount_unit, self.name_button):
            row.addWidget(widget, 1 if widget is self.fault else 0)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.complaint)
        column.addLayout(row)
        self.fault.currentIndexChanged.connect(self._fit)
        self.amount.complaint.connect(self._complain)
        self.name_button.clicked.connect(self._name)
        self._fit()

    def set_unit(self, unit: TempUnit) -> None:
        """Take the size in another unit."""
        super().set_unit(unit)
        self.amount_unit.setText(unit.symbol)
        most = delta_to(_MOST_K, unit)
        self.amount.set_range(-most, most)

    def begin(self) -> None:
        """Forget what was named before."""
        self.fault.setCurrentIndex(0)
        self.amount.show_value(None)
        self._fit()

    @property
    def chosen(self) -> Fault | None:
        """Return the fault chosen, None before one is."""
        named = str(self.fault.currentData())
        return None if named == _NOT_YET else Fault(named)

    @Slot()
    def _fit(self) -> None:
        fault = self.chosen
        sized = fault is not None and fault in SIZED
        for widget in (self.amount_label, self.amount, self.amount_unit):
            widget.setVisible(sized)
        self.amount_label.setText("low by" if fault is Fault.PROBE_LOW else "above its display (− below) by")
        self.name_button.setEnabled(fault is not None)

    @Slot(str)
    def _complain(self, sentence: str) -> None:
        self.complaint.say(sentence, "bad")

    @Slot()
    def _name(self) -> None:
        fault = self.chosen
        if fault is None or self.amount.property("wrong"):
            return
        value = self.amount.value if fault in SIZED else None
        size_k = None if value is None else value / delta_to(1.0, self.unit)
        if size_k is not None and fault is Fault.PROBE_LOW:
            size_k = -abs(size_k)  # asked for as how low, whatever the sign it is typed with
        self.named.emit(Diagnosis(fault=fault, size_k=size_k))


class CaseVerdict(Panel):
    """Says what became of a diagnosis.

    Signals:
        another_asked: Another machine.
    """

    another_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Marking")
        self.verdict, self.reasons = QLabel(), QLabel()
        for label in (self.verdict, self.reasons):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
        self.another_button = button("Another machine", look="primary")
        self.another_button.clicked.connect(self.another_asked)
        words = QVBoxLayout()
        words.setSpacing(6)
        words.addWidget(self.verdict)
        words.addWidget(self.reasons)
        row = QHBoxLayout(self)
        row.setContentsMargins(14, 10, 14, 10)
        row.setSpacing(12)
        row.addLayout(words, 1)
        row.addWidget(self.another_button, 0, Qt.AlignmentFlag.AlignBottom)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.verdict.setFont(theme.font(1.2, bold=True))

    def show_marking(self, marking: CaseMarking) -> None:
        """Show what became of a diagnosis."""
        sign, look = ("✓", "good") if marking.right else ("✕", "bad")
        self.verdict.setText(f"{sign} {marking.verdict} {marking.points:.0f} of 100 points.")
        self.verdict.setProperty("look", look)
        repolish(self.verdict)
        lines = [f"• {line}" for line in marking.pointers]
        if marking.separating:
            lines += ["What would have told it apart:", *(f"• {line}" for line in marking.separating)]
        self.reasons.setText("\n".join(lines))

    def clear(self) -> None:
        """Hold nothing of a machine that is over."""
        self.verdict.clear()
        self.reasons.clear()
