"""The large view: headline and trace over the whole screen, for filming or for a class."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QVBoxLayout

from benchtemp.shots.stages import Stage
from benchtemp.window.guidance import guidance
from benchtemp.window.headline import Headline
from benchtemp.window.lesson.hidden import HIDDEN_SENTENCE
from benchtemp.window.lesson.note_board import NoteBoard
from benchtemp.window.panel import Panel
from benchtemp.window.plan_strip import PlanStrip
from benchtemp.window.shot_cards import figures_of, verdict_of
from benchtemp.window.theme import repolish
from benchtemp.window.trace_plot import TracePlot

if TYPE_CHECKING:
    from PySide6.QtGui import QCloseEvent, QKeyEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.units import TempUnit
    from benchtemp.window.lesson.lesson import Lesson
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.theme import Theme

_SCALE = 1.8


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
        self.headline = Headline(largest=16.0)
        self.plot = TracePlot(scale=_SCALE, tools=False)
        self.note_board = NoteBoard(scale=_SCALE * 1.7)
        self.note_board.hide()
        self._lesson: Lesson | None = None
        self.plan_strip = PlanStrip(scale=_SCALE * 0.8, tools=False)
        self.line = QLabel()
        self.line.setAccessibleName("What to do next")
        self.line.setWordWrap(True)
        self.verdict = QLabel()
        self.verdict.setAccessibleName("Last shot")
        self.verdict.setWordWrap(True)
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
        self.line.setFont(theme.font(_SCALE))
        self.verdict.setFont(theme.font(_SCALE, bold=True, figures=True))

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
        running = snapshot is None or snapshot.stage in {Stage.RISING, Stage.PLATEAU}
        shots = () if running or snapshot is None else snapshot.shots
        shot = next((shot for shot in reversed(shots) if not shot.is_flush), None)
        text, look = "", ""
        if self._lesson is not None and self._lesson.hidden:
            text, look = HIDDEN_SENTENCE, "quiet"
        elif shot is not None:
            verdict, look = verdict_of(shot)
            text = f"Shot {shot.number}:  {figures_of(shot)}   {verdict}"
        if self.verdict.text() != text:
            self.verdict.setText(text)
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
