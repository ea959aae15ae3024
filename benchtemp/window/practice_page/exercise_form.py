"""The form that makes an exercise: which shots, what it is called, and where its file goes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from benchtemp.errors import BadInput
from benchtemp.logbook.names import safe_part
from benchtemp.teaching.exercise import WORDS_LIMIT, Exercise
from benchtemp.teaching.exercise_file import SUFFIX, write_exercise
from benchtemp.window.fields import TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.practice_page.choosing import FILE_FILTER
from benchtemp.window.practice_page.preparing import Candidate
from benchtemp.window.practice_page.tick_list import TickList

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from PySide6.QtGui import QKeyEvent

    from benchtemp.window.theme import Theme


class ExerciseForm(Panel):
    """Takes what an exercise needs.

    Attributes:
        ask_path: Asks where the file shall go, given a name to offer; returns None where it shall not.

    Signals:
        agreed: Carries what makes and writes the file (a callable that returns its path).
        left: The form is left.
    """

    agreed = Signal(object)
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.setAccessibleName("Make an exercise")
        self.ask_path: Callable[[str], Path | None] = self._ask_path
        self._candidates: tuple[Candidate, ...] = ()
        self.heading = heading("Make an exercise")
        self.step = QLabel("Choose the shots with Enter, name the exercise, and save it as one file.")
        self.step.setAccessibleName("What to do next")
        self.step.setWordWrap(True)
        self.title = TextField(name="Title", hint="for instance: Plateaus of a heat exchanger")
        self.teacher = TextField(name="Teacher", hint="your name, if you like")
        self.words = QPlainTextEdit()
        self.words.setAccessibleName("Words to the trainee")
        self.words.setTabChangesFocus(True)
        self.words.setPlaceholderText("What to look for, if you like")
        self.words.setMaximumHeight(90)
        self.band = Choice("Target band", ((True, "is shown"), (False, "is not shown")))
        self.list = TickList("Shots of the exercise")
        self.note = quiet(
            "The trainee gets the readings alone. Brew temperature, plateau, pump marks and your notes are "
            "packed apart, so that nobody reads an answer by chance; notes appear as the trace reaches them.",
            wrap=True,
        )
        self.said = Sentence(look="bad", name="Exercise")
        self.save_button = button("Save as a file…", look="primary")
        self.back_button = button("Back", tip="Esc")
        self.save_button.clicked.connect(self._save)
        self.back_button.clicked.connect(self.left)
        self._lay_out()

    def _lay_out(self) -> None:
        form = QFormLayout()
        form.setHorizontalSpacing(10)
        form.setVerticalSpacing(8)
        form.addRow("Title", self.title)
        form.addRow("Teacher", self.teacher)
        form.addRow("To the trainee", self.words)
        form.addRow("Target band", self.band)
        left = QVBoxLayout()
        left.addLayout(form)
        left.addWidget(self.note)
        left.addStretch(1)
        right = QVBoxLayout()
        right.addWidget(quiet("Shots, in the order they are asked"))
        right.addWidget(self.list, 1)
        body = QHBoxLayout()
        body.setSpacing(16)
        body.addLayout(left, 3)
        body.addLayout(right, 2)
        foot = QHBoxLayout()
        foot.addWidget(self.back_button)
        foot.addStretch(1)
        foot.addWidget(self.save_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(10)
        column.addWidget(self.heading)
        column.addWidget(self.step)
        column.addLayout(body, 1)
        column.addWidget(self.said)
        column.addLayout(foot)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.heading.setFont(theme.font(1.5, bold=True))
        self.step.setFont(theme.font(1.2))

    def begin(self, candidates: Sequence[Candidate], title: str = "") -> None:
        """Offer shots.

        Args:
            candidates: In the order they are asked.
            title: To begin with.
        """
        self._candidates = tuple(candidates)
        self.title.setText(title)
        self.said.say("")
        self.list.clear()
        for candidate in self._candidates:
            self.list.offer(candidate.title, candidate.detail, candidate, ticked=candidate.chosen)
        self.list.setCurrentRow(0)
        self.title.setFocus()

    @property
    def chosen(self) -> tuple[Candidate, ...]:
        """Return the shots that are ticked."""
        return tuple(value for value in self.list.values if isinstance(value, Candidate))

    @Slot()
    def _save(self) -> None:
        title = " ".join(self.title.text().split())
        if not title:
            self.said.say("An exercise needs a title; give it one.", "bad")
            self.title.setFocus()
            return
        if not self.chosen:
            self.said.say("No shot is ticked; tick at least one with Enter.", "bad")
            self.list.setFocus()
            return
        path = self.ask_path(f"{safe_part(title, 'exercise')}{SUFFIX}")
        if path is None:
            return
        self.said.say("The exercise is being made.", "quiet")
        made = _Making(
            path,
            title,
            " ".join(self.teacher.text().split()),
            self.words.toPlainText().strip()[:WORDS_LIMIT],
            self.chosen,
            shows_band=bool(self.band.currentData()),
        )
        self.agreed.emit(made)

    def _ask_path(self, name: str) -> Path | None:
        chosen, _ = QFileDialog.getSaveFileName(self, "Save the exercise", name, FILE_FILTER)
        return Path(chosen) if chosen else None

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            event.ignore()


class _Making:
    """Cuts the shots and writes the file; run it in the background."""

    def __init__(
        self,
        path: Path,
        title: str,
        teacher: str,
        words: str,
        candidates: tuple[Candidate, ...],
        *,
        shows_band: bool,
    ) -> None:
        self._path = path
        self._title, self._teacher, self._words = title, teacher, words
        self._candidates = candidates
        self._shows_band = shows_band

    def __call__(self) -> Path:
        items = tuple(
            candidate.make(f"Shot {number}", self._shows_band)
            for number, candidate in enumerate(self._candidates, 1)
        )
        path = self._path
        if not path.name.endswith(SUFFIX):
            path = path.with_name(path.name.removesuffix(".zip") + SUFFIX)
            if path.exists():
                raise BadInput(f"There is already a file {path.name}; choose another name.")
        exercise = Exercise(title=self._title, teacher=self._teacher, items=items, words=self._words)
        # The dialogue has asked already whether a file of that very name may go.
        return write_exercise(path, exercise, overwrite=True)
