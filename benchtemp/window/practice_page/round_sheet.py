"""What is seen of a practice round: the trace, what to do next, the answer, and what became of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QVBoxLayout, QWidget

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.teaching.practice import RoundStage
from benchtemp.window.lesson.note_board import NoteBoard
from benchtemp.window.panel import Panel
from benchtemp.window.practice_page.answer_form import AnswerForm
from benchtemp.window.practice_page.marking_view import MarkingView
from benchtemp.window.practice_page.practice_plot import PracticePlot
from benchtemp.window.practice_page.round_head import RoundHead
from benchtemp.window.practice_page.trace_bar import TraceBar

if TYPE_CHECKING:
    from benchtemp.teaching.exercise import Item
    from benchtemp.teaching.practice import RoundView
    from benchtemp.window.theme import Theme

_SIDE_CHARS = 47


class RoundSheet(Panel):
    """The parts of a round and where they stand; knows nothing of what is done with them."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.head = RoundHead()
        self.words = QLabel()
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.words.setAccessibleName("The teacher's words")
        self.words.setWordWrap(True)
        self.note_board = NoteBoard(scale=1.6)
        self.plot = PracticePlot()
        self.form = AnswerForm()
        self.marking = MarkingView()
        self.bar = TraceBar()
        self._lay_out()

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.setSpacing(8)
        left.addWidget(self.words)
        left.addWidget(self.note_board)
        left.addWidget(self.plot, 1)
        left.addWidget(self.bar)
        self._side = QStackedWidget()
        self._side.addWidget(self.form)
        self._side.addWidget(self.marking)
        body = QHBoxLayout()
        body.setSpacing(10)
        body.addLayout(left, 1)
        body.addWidget(self._side)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 10)
        column.setSpacing(8)
        column.addWidget(self.head)
        column.addLayout(body, 1)

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.words.setFont(theme.font(1.1))
        self._side.setFixedWidth(self.fontMetrics().averageCharWidth() * _SIDE_CHARS)
        for panel in (self.head, self.plot, self.form, self.marking, self.note_board):
            panel.set_theme(theme)

    def show_item(self, item: Item, caption: str) -> None:
        """Show another shot, at its beginning."""
        t_s, temp_degc = item.trace
        self.marking.clear()
        self.plot.show_item(t_s, temp_degc, item.recipe, shows_band=item.shows_band, caption=caption)
        self.note_board.setVisible(bool(item.notes))
        self.form.begin(item)

    def show_view(self, view: RoundView, item: Item, *, may_mark: bool) -> None:
        """Show where a round stands.

        Args:
            view: Where.
            item: The shot it is about.
            may_mark: Whether marks can be made already.
        """
        shown = view.stage is not RoundStage.WATCHING
        self.head.show_place(view)
        waiting = view.number == 1 and view.t_s == 0.0 and not shown
        self.words.setVisible(waiting and bool(self.words.text()))
        self.bar.setVisible(not shown)
        self._side.setCurrentWidget(self.marking if shown else self.form)
        reference = item.reference if shown else None
        answer = view.marking.answer if view.marking is not None else view.answer
        self.plot.show_until(item.length_s if shown else view.t_s)
        self.plot.show_answer(answer, reference)
        if shown and view.marking is not None:
            last, basis = view.number == view.count, str(item.reference.basis)
            self.marking.show_marking(view.marking, basis, last=last, tries=view.tries)
        else:
            self.form.show_answer(view.answer)
            self.form.let_mark(may_mark)
        note = view.notes[-1] if view.notes else None
        self.note_board.show_note(None if note is None else Mark(note.t_s, MarkKind.NOTE, note.text))
