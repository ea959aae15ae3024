"""The Findings page: the question at the left, what the shots say to it at the right."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QLabel, QWidget

from benchtemp.window.findings_page.asking import Answer, Question, Scope, about_plan, answered, read_scope
from benchtemp.window.findings_page.demo_week import DemoWeek
from benchtemp.window.findings_page.question_form import QuestionForm
from benchtemp.window.findings_page.study_view import StudyView
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.panels.side_page import SidePage, scroll_bar_width, scrolled, words_view
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from PySide6.QtGui import QResizeEvent

    from benchtemp.logbook.folder import Logbook
    from benchtemp.studies.plans.plan import Plan
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_FORM_CHARS = 41
_FORM_SHARE, _FORM_WIDEST = 0.24, 1.35
NOTHING = (
    "Findings turn shots into answers: how steady a machine is, what its display means, how much to flush, "
    "when it is warm. There are no shots in this logbook yet: pull some on the Bench, best by a plan, or "
    "look at an invented workshop's week first, four made-up machines with about 120 simulated shots. "
    "It goes into a folder of its own; your logbook is not touched."
)


class FindingsPage(SidePage):
    """Asks studies and shows them; everything is computed in the background.

    Attributes:
        action_row: A row beside the study's title for what can be done with it.

    Signals:
        logbook_shown: Carries the `Logbook` that is looked at, after it was changed.
        answered: What is shown has changed; see `shown`.
    """

    logbook_shown = Signal(object)
    answered = Signal()

    def __init__(self, logbook: Logbook, parent: QWidget | None = None) -> None:
        super().__init__("Findings", parent)
        self._own = logbook
        self.logbook = logbook
        self.scope = Scope()
        self._was_read = False
        self._waiting: Question | Plan | None = None
        self.form = QuestionForm()
        self.view = StudyView()
        self.action_row = self.view.action_row
        self._answer: Answer | None = None
        self.nothing = QLabel(NOTHING)
        self.nothing.setWordWrap(True)
        self.demo_button = button("Build the demo logbook", look="primary")
        self.demo_says = Sentence(look="quiet", name="Demo logbook")
        self.where = quiet(wrap=True)
        self.own_button = button("Back to my logbook", look="flat")
        self.trouble = QLabel()
        self.trouble.setWordWrap(True)
        self._demo = DemoWeek(self)
        self._reading = Background(self, name="shots for findings")
        self._working = Background(self, name="study")
        self._scroll = scrolled(self.form)
        self._empty = words_view(self.nothing, self.demo_button, self.demo_says)
        self._refused = words_view(self.trouble)
        for view in (QWidget(), self._empty, self._refused, self.view):
            self.views.addWidget(view)
        self.side.addWidget(self._scroll, 1)
        self.side.addWidget(self.where)
        self.side.addWidget(self.own_button)
        self._connect()

    def _connect(self) -> None:
        self.form.asked.connect(self.ask)
        self.demo_button.clicked.connect(self.build_demo)
        self.own_button.clicked.connect(self.show_own)
        self.own_button.hide()
        self._demo.told.connect(self.demo_says.say)
        self._demo.built.connect(self._show_demo)
        self._demo.failed.connect(self._tell_demo_failure)
        self._reading.done.connect(self._take_scope)
        self._reading.failed.connect(self._tell_trouble)
        self._working.done.connect(self._take_answer)
        self._working.failed.connect(self._tell_trouble)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.nothing.setFont(theme.font(1.2))
        self.trouble.setFont(theme.font(1.25))
        self.form.set_theme(theme)
        self._fit_side()
        self.view.set_theme(theme)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Give a wide window's room to the names in the form too."""
        super().resizeEvent(event)
        self._fit_side()

    def _fit_side(self) -> None:
        # Where not all of it fits in height, a scroll bar stands beside it.
        least_px = self.form.least_width + scroll_bar_width(self._scroll) + 4
        usual_px = self.fontMetrics().averageCharWidth() * _FORM_CHARS
        wide_px = min(int(self.width() * _FORM_SHARE), int(usual_px * _FORM_WIDEST))
        self.fix_side(_FORM_CHARS, max(least_px, wide_px))

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        self.form.set_unit(unit)
        self.view.set_unit(unit)

    # -- reading -------------------------------------------------------------------------------------------

    @Slot()
    def read(self) -> None:
        """Read the logbook anew, in the background."""
        if not self._was_read:
            self.said.say("Reading the logbook.")
        self.where.setText(f"Logbook: {self.logbook.root}")
        self._reading.start(partial(read_scope, self.logbook))

    def show_logbook(self, logbook: Logbook) -> None:
        """Look at another logbook."""
        self.logbook = logbook
        self._was_read = False
        self._waiting = None
        self.scope = Scope()
        self.own_button.setVisible(logbook.root != self._own.root)
        self.logbook_shown.emit(logbook)
        self.read()

    def show_plan(self, plan: Plan) -> None:
        """Ask what a plan is for, once the logbook has been read anew."""
        self._waiting = plan
        self.read()

    @Slot(object)
    def _take_scope(self, scope: Scope) -> None:
        first, changed = not self._was_read, scope != self.scope
        self._was_read = True
        self.scope = scope
        self.said.say("")
        if not scope.shots:
            self._working.forget()
            self.form.setEnabled(False)
            self.views.setCurrentWidget(self._empty)
            self._show_nothing()
            if first and self.isVisible():
                self.demo_button.setFocus()
            return
        self.form.setEnabled(True)
        self.form.show_scope(scope)
        waiting, self._waiting = self._waiting, None
        if waiting is not None:
            self.form.show_question(waiting if isinstance(waiting, Question) else about_plan(waiting))
        elif first:
            self.form.show_question(scope.first_question())
        elif changed:
            self.form.show_question(self.form.question)

    # -- asking --------------------------------------------------------------------------------------------

    @Slot(object)
    def ask(self, question: Question) -> None:
        """Answer a question in the background."""
        self.said.say("Working it out.")
        self._working.start(partial(answered, self.logbook, self.scope, question))

    def shown(self) -> Answer | None:
        """Return the study shown with its question and the shots meant; None while none is shown."""
        return self._answer

    @Slot(object)
    def _take_answer(self, answer: Answer) -> None:
        self.said.say("; ".join(self.scope.complaints))
        # To the front before it is filled, so that charts are made at the width they will have.
        self.views.setCurrentWidget(self.view)
        self._answer = answer
        self.view.show_study(answer.study)
        self.answered.emit()

    @Slot(str)
    def _tell_trouble(self, sentence: str) -> None:
        self.said.say("")
        self.trouble.setText(sentence)
        self.trouble.setAccessibleName(sentence)
        self.views.setCurrentWidget(self._refused)
        self._show_nothing()

    def _show_nothing(self) -> None:
        if self._answer is not None:
            self._answer = None
            self.answered.emit()

    @property
    def busy(self) -> bool:
        """Tell whether an answer is awaited."""
        return self._reading.busy or self._working.busy

    # -- demo ----------------------------------------------------------------------------------------------

    @Slot()
    def build_demo(self) -> None:
        """Build the demo week, or look at the one there is."""
        self.demo_button.setEnabled(False)
        self._demo.begin()

    @Slot(object)
    def _show_demo(self, logbook: Logbook) -> None:
        self.demo_button.setEnabled(True)
        self.demo_says.say("")
        self.show_logbook(logbook)

    @Slot(str)
    def _tell_demo_failure(self, sentence: str) -> None:
        self.demo_button.setEnabled(True)
        self.demo_says.say(sentence, "bad")

    @Slot()
    def show_own(self) -> None:
        """Go back to the user's own logbook."""
        self.show_logbook(self._own)

    @Slot()
    def take_focus(self) -> None:
        """Put the focus where the question begins."""
        if self.views.currentWidget() is self._empty:
            self.demo_button.setFocus()
        else:
            self.form.kind.setFocus()

    def close_down(self) -> None:
        """Wait for what is being done."""
        self._reading.join()
        self._working.join(30.0)
        self._demo.close_down()
