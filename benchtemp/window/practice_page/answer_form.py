"""What the trainee answers of one shot: two moments, a temperature, and whether it counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.teaching.marking import Part
from benchtemp.units import TempUnit, degc_from, degc_to
from benchtemp.window.fields import NumberField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.practice_page.sentences import PART_NAMES, time_text

if TYPE_CHECKING:
    from benchtemp.teaching.exercise import Item
    from benchtemp.teaching.marking import Answer
    from benchtemp.window.theme import Theme


def rule_text(item: Item) -> str:
    """Return what decides whether this shot counts."""
    recipe = item.recipe
    told = []
    if item.dose_g is not None:
        told.append(f"Dose {item.dose_g:g} g")
    if item.yield_g is not None:
        told.append(f"{'yield' if told else 'Yield'} {item.yield_g:g} g")
    rule = f"A shot counts with a plateau of at least {recipe.plateau_min_s:g} s"
    if item.dose_g is not None and item.yield_g is not None:
        rule += (
            f", 1 : {recipe.brew_ratio:g} within {recipe.brew_ratio_tolerance * 100:g} %, "
            f"in {recipe.time_low_s:g} to {recipe.time_high_s:g} s"
        )
    return f"{', '.join(told)}. {rule}." if told else f"{rule}."


class AnswerForm(Panel):
    """Shows and takes an answer.

    Signals:
        pump_on_pressed, plateau_pressed, take_back_asked: As their buttons and keys.
        temp_given: Carries the brew temperature in °C, None for none.
        temp_passed: The field for it was left with Enter, with a temperature or without.
        counts_given: Carries whether the shot counts.
        submitted: The answer is to be marked.
        skipped: The shot is passed over.
    """

    pump_on_pressed = Signal()
    plateau_pressed = Signal()
    take_back_asked = Signal()
    temp_given = Signal(object)
    temp_passed = Signal()
    counts_given = Signal(bool)
    submitted = Signal()
    skipped = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Your answer")
        self.pump_button = button("Pump on (Space)", tip="The pump goes on at this moment (Space)")
        self.plateau_button = button("Plateau (Enter)", tip="The plateau is reached at this moment (Enter)")
        self.back_button = button(
            "Take back",
            name="Take the last mark back",
            look="flat",
            tip="Take the last mark back (Backspace)",
        )
        self.pump_time, self.plateau_time = QLabel("—"), QLabel("—")
        for label, part in ((self.pump_time, Part.PUMP_ON), (self.plateau_time, Part.PLATEAU_START)):
            label.setAccessibleName(PART_NAMES[part])
        self.temp = NumberField(name="brew temperature", hint="none", low=20.0, high=130.0)
        self.unit_label = quiet("°C")
        self.complaint = Sentence(look="bad", name="Brew temperature")
        self.rule = quiet(wrap=True)
        self.yes_button = button("It counts")
        self.no_button = button("It does not count")
        for choice in (self.yes_button, self.no_button):
            choice.setCheckable(True)
            choice.installEventFilter(self)
        self.submit_button = button("Hand in", look="primary")
        self.skip_button = button("Skip", look="flat", tip="No points for this shot; its reference is shown")
        self._lay_out()
        self.pump_button.clicked.connect(self.pump_on_pressed)
        self.plateau_button.clicked.connect(self.plateau_pressed)
        self.back_button.clicked.connect(self.take_back_asked)
        self.temp.taken.connect(self._take_temp)
        self.temp.complaint.connect(self.complaint.say)
        self.temp.entered.connect(self._leave_temp)
        self.yes_button.clicked.connect(self._say_yes)
        self.no_button.clicked.connect(self._say_no)
        self.submit_button.clicked.connect(self.submitted)
        self.skip_button.clicked.connect(self.skipped)

    def _lay_out(self) -> None:
        moments = QGridLayout()
        moments.setHorizontalSpacing(10)
        moments.setVerticalSpacing(6)
        rows = ((self.pump_button, self.pump_time), (self.plateau_button, self.plateau_time))
        for row, (press, shown) in enumerate(rows):
            moments.addWidget(press, row, 0)
            moments.addWidget(shown, row, 1, Qt.AlignmentFlag.AlignRight)
        moments.setColumnStretch(0, 1)
        temp = QHBoxLayout()
        temp.setSpacing(8)
        label = QLabel("Brew temperature")
        label.setBuddy(self.temp)
        temp.addWidget(label)
        temp.addWidget(self.temp, 1)
        temp.addWidget(self.unit_label)
        counts = QHBoxLayout()
        counts.setSpacing(6)
        counts.addWidget(self.yes_button, 1)
        counts.addWidget(self.no_button, 1)
        foot = QHBoxLayout()
        foot.setSpacing(6)
        foot.addWidget(self.back_button)
        foot.addWidget(self.skip_button)
        foot.addStretch(1)
        foot.addWidget(self.submit_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(8)
        column.addWidget(heading("Your answer"))
        column.addLayout(moments)
        column.addLayout(temp)
        column.addWidget(self.complaint)
        column.addWidget(self.rule)
        column.addLayout(counts)
        column.addStretch(1)
        column.addLayout(foot)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        figures = theme.font(1.25, bold=True, figures=True)
        for label in (self.pump_time, self.plateau_time):
            label.setFont(figures)
        self.temp.setFont(theme.font(1.25, figures=True))

    def set_unit(self, unit: TempUnit) -> None:
        """Take temperatures in another unit; one that was given is shown in it."""
        super().set_unit(unit)
        self.unit_label.setText(unit.symbol)
        low, high = degc_to(20.0, unit), degc_to(130.0, unit)
        self.temp.set_range(low, high)

    # -- content -------------------------------------------------------------------------------------------

    def begin(self, item: Item) -> None:
        """Get ready for another shot."""
        self.rule.setText(rule_text(item))
        self.complaint.say("")
        self.temp.clear()
        self.temp.setModified(False)
        self.temp.show_value(None)

    def show_answer(self, answer: Answer) -> None:
        """Show what was answered so far."""
        for label, t_s in (
            (self.pump_time, answer.pump_on_s),
            (self.plateau_time, answer.plateau_start_s),
        ):
            text = time_text(t_s)
            if label.text() != text:
                label.setText(text)
        temp_degc = answer.brew_temp_degc
        self.temp.show_value(None if temp_degc is None else round(degc_to(temp_degc, self.unit), 2))
        for choice, means in ((self.yes_button, True), (self.no_button, False)):
            if choice.isChecked() != (answer.counts is means):
                choice.setChecked(answer.counts is means)

    def let_mark(self, may: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Take marks, or take none while the trace stands at its beginning."""
        for press in (self.pump_button, self.plateau_button):
            if press.isEnabled() != may:
                press.setEnabled(may)

    def go_to_temp(self) -> None:
        """Put the focus where the brew temperature is typed."""
        self.temp.setFocus()

    # -- what the trainee does -----------------------------------------------------------------------------

    @Slot(object)
    def _take_temp(self, value: float | None) -> None:
        self.temp_given.emit(None if value is None else degc_from(value, self.unit))

    @Slot()
    def _leave_temp(self) -> None:
        (self.no_button if self.no_button.isChecked() else self.yes_button).setFocus()
        self.temp_passed.emit()

    @Slot()
    def _say_yes(self) -> None:
        self._say(counts=True)

    @Slot()
    def _say_no(self) -> None:
        self._say(counts=False)

    def _say(self, *, counts: bool) -> None:
        self.counts_given.emit(counts)
        self.submit_button.setFocus()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Go from one verdict to the other with the arrow keys."""
        if event.type() is QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            key = event.key()
            if key in {Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down}:
                (self.no_button if watched is self.yes_button else self.yes_button).setFocus()
                return True
        return super().eventFilter(watched, event)
