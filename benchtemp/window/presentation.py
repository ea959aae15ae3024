"""The large view: headline and trace over the whole screen, for filming or for a class."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QVBoxLayout

from benchtemp.window.guidance import guidance
from benchtemp.window.headline import Headline, last_result
from benchtemp.window.lesson.hidden import HIDDEN_SENTENCE
from benchtemp.window.lesson.note_board import NoteBoard
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Wrapped
from benchtemp.window.plan_strip import PlanStrip
from benchtemp.window.shot_cards import figures_of, verdict_of
from benchtemp.window.theme import repolish
from benchtemp.window.trace_plot import TracePlot

if TYPE_CHECKING:
    from PySide6.QtGui import QCloseEvent, QKeyEvent, QResizeEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.units import TempUnit
    from benchtemp.window.lesson.lesson import Lesson
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.theme import Theme

_SCALE = 1.8
_LINE_CHARS = 100
_LARGEST_WORDS = 4.0


class Presentation(Panel):
    """A window of its own; all keys of the bench work in it, Esc closes it.

    Signals:
        closed: It was closed.
    """

    closed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setWindowTitle("benchtemp, large view")
        self.setProperty("look", "page")
        self._choice: SourceChoice | None = None
        self._words = 0.0
        self.headline = Headline(largest=16.0, small=0.3)
        self.plot = TracePlot(scale=_SCALE, tools=False)
        self.note_board = NoteBoard(scale=_SCALE * 1.7)
        self.note_board.hide()
        self._lesson: Lesson | None = None
        self.plan_strip = PlanStrip(scale=_SCALE * 0.8, tools=False)
        self.line = Wrapped()
        self.line.setAccessibleName("What to do next")
        self.verdict = Wrapped()
        self.verdict.setAccessibleName("Last shot")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 20)
        layout.setSpacing(14)
        layout.addWidget(self.headline)
        layout.addWidget(self.note_board)
        layout.addWidget(self.plot, 1)
        layout.addWidget(self.plan_strip)
        layout.addWidget(self.verdict)
        layout.addWidget(self.line)

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.headline.set_theme(theme)
        self.plot.set_theme(theme)
        self.note_board.set_theme(theme)
        self.plan_strip.set_theme(theme)
        self._words = 0.0
        self._fit_words()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Write the words as large as the screen allows."""
        super().resizeEvent(event)
        self._fit_words()

    def _fit_words(self) -> None:
        """Choose the words' scale, in steps: a usual sentence fills about two thirds of a line."""
        words = self.width() / (QFontMetricsF(self.theme.font(1.0)).averageCharWidth() * _LINE_CHARS)
        words = min(_LARGEST_WORDS, max(_SCALE * 0.75, int(words * 4) / 4))
        if words != self._words:
            self._words = words
            self.line.setFont(self.theme.font(words))
            self.verdict.setFont(self.theme.font(words, bold=True, figures=True))

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        self.headline.set_unit(unit)
        self.plot.set_unit(unit)
        self.plan_strip.set_unit(unit)

    def begin(self, choice: SourceChoice | None) -> None:
        """Know what the sitting reads from."""
        self._choice = choice
        self.plot.begin_again(replay=choice is not None and not choice.keep)

    def teach(self, lesson: Lesson | None) -> None:
        """Show the notes of a lesson as they come, and hide the results where it does; None for no lesson."""
        self._lesson = lesson
        hidden = lesson is not None and lesson.hidden
        self.headline.hide_results(hidden)
        self.plot.hide_results(hidden)
        self.note_board.setVisible(lesson is not None and lesson.has_notes)

    def _show_lesson(self, snapshot: Snapshot | None) -> None:
        lesson = self._lesson
        if lesson is None or snapshot is None:
            self.plot.show_notes(())
            self.note_board.show_note(None)
            return
        self.plot.show_notes(lesson.own_come(snapshot.now_s))
        self.note_board.show_note(lesson.latest_note(snapshot.now_s))

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show where the bench stands."""
        self._show_lesson(snapshot)
        self.headline.show_snapshot(snapshot)
        self.plot.show_snapshot(snapshot)
        choice = self._choice
        text = "No source is open. Esc leads back."
        if choice is not None:
            text = guidance(snapshot, virtual=not choice.hardware, replay=not choice.keep)
        if self.line.text() != text:
            self.line.setText(text)
        self._show_verdict(snapshot)

    def _show_verdict(self, snapshot: Snapshot | None) -> None:
        shot = None if snapshot is None else last_result(snapshot)
        text, look = "", ""
        if self._lesson is not None and self._lesson.hidden:
            text, look = HIDDEN_SENTENCE, "quiet"
        elif shot is not None:
            verdict, look = verdict_of(shot)
            text = f"Shot {shot.number}:  {figures_of(shot)}   {verdict}"
        if self.verdict.text() != text:
            self.verdict.setText(text)
            self.verdict.setVisible(bool(text))
        if self.verdict.property("look") != look:
            self.verdict.setProperty("look", look)
            repolish(self.verdict)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Close with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.close()
        else:
            event.ignore()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Tell that it was closed."""
        super().closeEvent(event)
        self.closed.emit()
