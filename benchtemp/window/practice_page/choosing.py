"""The choice of what to practise: who, and on what."""

from __future__ import annotations

import random
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QCompleter,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from benchtemp.teaching.endless import Level
from benchtemp.window.fields import NumberField, TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.practice_page.progress_chart import ProgressChart
from benchtemp.window.practice_page.tick_list import TickList
from benchtemp.window.sources.offer_button import OfferButton

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.window.practice_page.preparing import ListedShot
    from benchtemp.window.theme import Theme

LEVELS = {
    Level.EASY: ("Easy", "A steady machine, a fast and quiet probe"),
    Level.USUAL: ("Usual", "Several builds of machine, some flushes and pre-infusion"),
    Level.HARD: ("Hard", "Slow, noisy, coarse readings; anything may happen"),
}
COUNTS = (3, 5, 10)
FILE_FILTER = "Exercises (*.exercise.zip);;All files (*)"
CODE_MAX = 999_999
_WHO = "Type your name, so that your scores can be kept; Enter goes on."
_WHAT = "Choose what to practise: Tab goes from one to the next, Enter begins."


class Choosing(Panel):
    """Offers everything there is to practise.

    Signals:
        trainee_changed: The name in the field.
        endless_asked: Level, and how many shots.
        file_asked: Path of an exercise.
        shots_asked: Paths of shots to practise.
        exercise_asked: Paths of shots to make an exercise of.
        case_asked: Number of a machine to diagnose.
    """

    trainee_changed = Signal(str)
    endless_asked = Signal(object, int)
    file_asked = Signal(object)
    shots_asked = Signal(object)
    exercise_asked = Signal(object)
    case_asked = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.title = QLabel("Practice")
        self.step = QLabel(_WHO)
        self.step.setAccessibleName("What to do next")
        self.step.setWordWrap(True)
        self.trainee = TextField(name="Trainee", hint="name")
        self.trainee.setMaxLength(60)
        self.trainee.editingFinished.connect(self._tell_trainee)
        self.trainee.returnPressed.connect(self.take_focus)
        self.said = Sentence(name="Practice")
        self.count = Choice("Shots in a round", [(count, f"{count} shots") for count in COUNTS])
        self.count.setCurrentIndex(COUNTS.index(5))
        self.levels: dict[Level, OfferButton] = {}
        for level, (name, detail) in LEVELS.items():
            offer = OfferButton(name, detail)
            offer.clicked.connect(lambda _checked=False, level=level: self._ask_endless(level))
            self.levels[level] = offer
        self.file_button = button("Open an exercise…", tip="A file that a teacher handed over")
        self.file_button.clicked.connect(self._choose_file)
        self.list = TickList("Shots of the logbook")
        self.list.ticked.connect(self._fit_buttons)
        self.listed = quiet("Reading the logbook.", wrap=True)
        self.practise_button = button("Practise", name="Practise the shots ticked")
        self.practise_button.clicked.connect(self._ask_shots)
        self.make_button = button("Make an exercise…", tip="Hand these shots over as one file")
        self.make_button.clicked.connect(self._ask_exercise)
        self.code = NumberField(
            name="number of the machine", hint="any", low=1, high=CODE_MAX, decimals=0, may_be_empty=True
        )
        self.code.entered.connect(self._ask_case)
        self.code_complaint = Sentence(look="bad", name="Number of the machine")
        self.code.complaint.connect(self.code_complaint.say)
        self.case_button = button("Take a machine")
        self.case_button.clicked.connect(self._ask_case)
        self.chart = ProgressChart()
        self._lay_out()
        self._fit_buttons()

    # -- building ------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        who = QHBoxLayout()
        who.setSpacing(8)
        label = QLabel("Trainee")
        label.setBuddy(self.trainee)
        self.trainee.setMaximumWidth(260)
        who.addWidget(self.title)
        who.addSpacing(16)
        who.addWidget(label)
        who.addWidget(self.trainee)
        who.addStretch(1)
        columns = QHBoxLayout()
        columns.setSpacing(10)
        for parts in (
            (self._virtual_card(), self._file_card()),
            (self._shots_card(),),
            (self._case_card(), self.chart),
        ):
            stack = QVBoxLayout()
            stack.setSpacing(10)
            for part in parts:
                stack.addWidget(part)
            if len(parts) > 1:
                stack.addStretch(1)
            columns.addLayout(stack, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(10)
        column.addLayout(who)
        column.addWidget(self.step)
        column.addWidget(self.said)
        column.addLayout(columns, 1)

    @staticmethod
    def _card(name: str, words: str) -> tuple[Panel, QVBoxLayout]:
        card = Panel()
        card.setProperty("look", "surface")
        card.setAccessibleName(name)
        column = QVBoxLayout(card)
        column.setContentsMargins(14, 12, 14, 12)
        column.setSpacing(6)
        column.addWidget(heading(name))
        column.addWidget(quiet(words, wrap=True))
        return card, column

    def _virtual_card(self) -> Panel:
        card, inside = self._card("Virtual shots", "New ones every time, marked against the machine's truth.")
        for offer in self.levels.values():
            inside.addWidget(offer)
        inside.addWidget(self.count)
        inside.addStretch(1)
        return card

    def _file_card(self) -> Panel:
        card, inside = self._card("An exercise", "One file that a teacher made of shots and notes.")
        inside.addWidget(self.file_button, 0, Qt.AlignmentFlag.AlignLeft)
        inside.addStretch(1)
        return card

    def _shots_card(self) -> Panel:
        card, inside = self._card("Shots of the logbook", "Tick one or several with Enter.")
        inside.addWidget(self.list, 100)
        inside.addWidget(self.listed)
        inside.addStretch(1)  # where there is no list, words and buttons keep together
        row = QHBoxLayout()
        row.setSpacing(6)
        row.addWidget(self.practise_button)
        row.addWidget(self.make_button)
        row.addStretch(1)
        inside.addLayout(row)
        return card

    def _case_card(self) -> Panel:
        card, inside = self._card(
            "Find the fault",
            "A virtual machine with something wrong, or nothing. Pull shots, check its probe, name the "
            "fault. The same number is the same machine for everybody.",
        )
        row = QHBoxLayout()
        row.setSpacing(8)
        label = QLabel("Number")
        label.setBuddy(self.code)
        row.addWidget(label)
        row.addWidget(self.code, 1)
        inside.addLayout(row)
        inside.addWidget(self.code_complaint)
        inside.addWidget(self.case_button, 0, Qt.AlignmentFlag.AlignLeft)
        inside.addStretch(1)
        return card

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours and fonts."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.step.setFont(theme.font(1.2))
        self.chart.set_theme(theme)

    # -- content -------------------------------------------------------------------------------------------

    def show_trainees(self, names: Sequence[str]) -> None:
        """Offer the names of those who have scores."""
        completer = QCompleter(list(names), self.trainee)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        self.trainee.setCompleter(completer)

    def show_shots(self, shots: Sequence[ListedShot]) -> None:
        """List shots, newest first; those chosen stay so."""
        chosen = set(self.chosen)
        self.list.clear()
        for shot in shots:
            self.list.offer(
                shot.title, shot.detail, shot.path, ticked=shot.path in chosen, tip=str(shot.path)
            )
        self.list.setVisible(bool(shots))
        self.listed.setText("" if shots else "No shots are kept yet. Pull one on the Bench.")
        self.listed.setVisible(not shots)
        self._fit_buttons()

    @property
    def chosen(self) -> tuple[Path, ...]:
        """Return the files of the shots chosen, in the order of the list."""
        return tuple(Path(str(value)) for value in self.list.values)

    def let_begin(self, may: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Take wishes, or none while one is being made ready."""
        for widget in (*self.levels.values(), self.file_button, self.case_button):
            widget.setEnabled(may)
        self._fit_buttons(may=may)

    @Slot()
    def _fit_buttons(self, *, may: bool = True) -> None:
        count = len(self.chosen)
        for widget, text in ((self.practise_button, "Practise"), (self.make_button, "Make an exercise…")):
            widget.setEnabled(may and count > 0)
            widget.setText(f"{text} ({count})" if count else text)

    @Slot()
    def take_focus(self) -> None:
        """Put the focus where the keyboard goes on: to the name, or to what is to be practised."""
        (self.levels[Level.USUAL] if self.trainee.text().strip() else self.trainee).setFocus()

    # -- what the user wants -------------------------------------------------------------------------------

    @Slot()
    def _tell_trainee(self) -> None:
        name = " ".join(self.trainee.text().split())
        self.step.setText(_WHAT if name else _WHO)
        self.trainee_changed.emit(name)

    def _ask_endless(self, level: Level) -> None:
        self.endless_asked.emit(level, int(self.count.currentData()))

    @Slot()
    def _choose_file(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "Open an exercise", "", FILE_FILTER)
        if name:
            self.file_asked.emit(Path(name))

    @Slot()
    def _ask_shots(self) -> None:
        if self.chosen:
            self.shots_asked.emit(self.chosen)

    @Slot()
    def _ask_exercise(self) -> None:
        if self.chosen:
            self.exercise_asked.emit(self.chosen)

    @Slot()
    def _ask_case(self) -> None:
        if self.code.property("wrong"):
            self.code.setFocus()
            return
        value = self.code.value
        self.case_asked.emit(any_code() if value is None else int(value))


def any_code() -> int:
    """Return the number of a machine nobody chose."""
    return random.randint(1, CODE_MAX)  # noqa: S311 - no secret depends on it
