"""The Practice page: choose, go through a round, see the score; make exercises; diagnose machines."""

from __future__ import annotations

from functools import cached_property, partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from benchtemp.teaching.practice import Round
from benchtemp.window.panel import Panel
from benchtemp.window.practice_page.choosing import Choosing
from benchtemp.window.practice_page.diagnosing import Diagnosing
from benchtemp.window.practice_page.exercising import Exercising
from benchtemp.window.practice_page.keeping import keep_score, progress_of, shots_and_names
from benchtemp.window.practice_page.preparing import (
    Prepared,
    endless,
    from_file,
    from_shots,
)
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from PySide6.QtGui import QKeyEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.teaching.endless import Level
    from benchtemp.teaching.scores import Progress
    from benchtemp.units import TempUnit
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.practice_page.preparing import ListedShot
    from benchtemp.window.practice_page.round_panel import RoundPanel
    from benchtemp.window.practice_page.score_view import ScoreView
    from benchtemp.window.theme import Theme

NOT_KEPT = "Not kept: no name was given. Type your name before the next round."


class PracticePage(Panel):
    """Everything about practice.

    Signals:
        bench_asked: Back to the Bench, from where an exercise was to be made.
        sitting_asked: Carries the `SourceChoice` of a sitting with a machine to diagnose.
        check_asked: Name of a probe to be checked with guidance, and what opens its pot: a callable that
            takes the `Bath` and returns a `SourceChoice`.
    """

    bench_asked = Signal()
    sitting_asked = Signal(object)
    check_asked = Signal(str, object)

    def __init__(self, logbook: Logbook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self._logbook = logbook
        self._name = ""
        self._again: Callable[[], Prepared] | None = None
        self.choosing = Choosing()
        self._panels: list[Panel] = [self.choosing]
        self._stack = QStackedWidget()
        self._stack.addWidget(self.choosing)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._stack)
        self._preparing = Background(self, name="practice")
        self._listing = Background(self, name="shots of the logbook")
        self._scoring = Background(self, name="scores")
        self.diagnosing = Diagnosing(logbook, self._place, self)
        self.exercising = Exercising(self._place, self)
        self._connect()

    def _connect(self) -> None:
        choosing = self.choosing
        choosing.trainee_changed.connect(self._take_name)
        choosing.endless_asked.connect(self._begin_endless)
        choosing.file_asked.connect(self.begin_file)
        choosing.shots_asked.connect(self.begin_shots)
        choosing.exercise_asked.connect(self.exercising.of_shots)
        choosing.case_asked.connect(self.begin_case)
        self._preparing.done.connect(self._begin_round)
        self._preparing.failed.connect(self._refuse)
        self._listing.done.connect(self._take_lists)
        self._listing.failed.connect(self._refuse)
        self._scoring.done.connect(self._take_progress)
        self._scoring.failed.connect(self._tell_scores)
        for part in (self.diagnosing, self.exercising):
            part.shown.connect(self._show_view)
            part.left.connect(self.show_choice)
            part.refused.connect(self._refuse)
        self.exercising.said.connect(self._say_quietly)
        self.exercising.bench_asked.connect(self.bench_asked)
        self.diagnosing.sitting_asked.connect(self.sitting_asked)
        self.diagnosing.check_asked.connect(self.check_asked)
        self.diagnosing.another_asked.connect(self.begin_case)

    # -- views, made when they are first wanted ------------------------------------------------------------

    @cached_property
    def round(self) -> RoundPanel:
        """The round under way."""
        from benchtemp.window.practice_page.round_panel import RoundPanel  # noqa: PLC0415 - see above

        view = RoundPanel()
        self._place(view)
        view.ended.connect(self._end_round)
        return view

    @cached_property
    def score(self) -> ScoreView:
        """The end of a round."""
        from benchtemp.window.practice_page.score_view import ScoreView  # noqa: PLC0415 - see above

        view = ScoreView()
        self._place(view)
        view.another_asked.connect(self._begin_again)
        view.left.connect(self.show_choice)
        return view

    def _place(self, view: Panel) -> None:
        # Into its place before it is dressed: moving a widget under a style sheet takes its fonts away.
        self._stack.addWidget(view)
        view.set_theme(self.theme)
        view.set_unit(self.unit)
        self._panels.append(view)

    @Slot(object)
    def _show_view(self, view: Panel) -> None:
        self.choosing.said.say("")
        self._stack.setCurrentWidget(view)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        for panel in self._panels:
            panel.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        for panel in self._panels:
            panel.set_unit(unit)

    # -- the choice ----------------------------------------------------------------------------------------

    @Slot()
    def read(self) -> None:
        """Read shots and names anew, in the background."""
        self._listing.start(partial(shots_and_names, self._logbook))

    @Slot(object)
    def _take_lists(self, lists: tuple[tuple[ListedShot, ...], tuple[str, ...]]) -> None:
        shots, names = lists
        self.choosing.show_shots(shots)
        self.choosing.show_trainees(names)

    @Slot(str)
    def _take_name(self, name: str) -> None:
        if name == self._name:
            return
        self._name = name
        if name:
            self._scoring.start(partial(progress_of, self._logbook, name))
        else:
            self.choosing.chart.show_progress("", None)

    @Slot()
    def show_choice(self) -> None:
        """Show what there is to practise."""
        self._stack.setCurrentWidget(self.choosing)
        self.choosing.let_begin(True)  # noqa: FBT003 - a state
        self.read()
        self.take_focus()

    @Slot(str)
    def _refuse(self, sentence: str) -> None:
        self.choosing.let_begin(True)  # noqa: FBT003 - a state
        self._stack.setCurrentWidget(self.choosing)
        self.choosing.said.say(sentence, "bad")

    @Slot(str)
    def _say_quietly(self, sentence: str) -> None:
        self.choosing.said.say(sentence, "quiet")

    # -- machines to diagnose ------------------------------------------------------------------------------

    def offer_case(self) -> None:
        """Show the machine that is being diagnosed, or where one is taken up."""
        if self.diagnosing.work is not None:
            self._stack.setCurrentWidget(self.diagnosing.view)
            self.take_focus()
        elif self._stack.currentWidget() is self.choosing:
            self.choosing.case_button.setFocus()

    @Slot(int)
    def begin_case(self, code: int) -> None:
        """Take a machine up, by its number."""
        self.diagnosing.begin(code, self._name)

    # -- rounds --------------------------------------------------------------------------------------------

    @Slot(object, int)
    def _begin_endless(self, level: Level, count: int) -> None:
        self._prepare(partial(endless, level, count), "The shots are being made.")

    @Slot(object)
    def begin_file(self, path: Path) -> None:
        """Practise the exercise of a file."""
        self._prepare(partial(from_file, path), f"Reading {path.name}.")

    @Slot(object)
    def begin_shots(self, paths: Sequence[Path]) -> None:
        """Practise shots of the logbook."""
        self._prepare(partial(from_shots, tuple(paths)), "The shots are being cut.")

    def _prepare(self, work: Callable[[], Prepared], sentence: str) -> None:
        self._again = work
        self.choosing.said.say(sentence, "quiet")
        self.choosing.let_begin(False)  # noqa: FBT003 - a state
        self._preparing.start(work)

    @Slot()
    def _begin_again(self) -> None:
        if self._again is not None:
            self.show_choice()
            self._prepare(self._again, "The next round is being made ready.")

    @Slot(object)
    def _begin_round(self, prepared: Prepared) -> None:
        self.choosing.said.say("")
        self.choosing.let_begin(True)  # noqa: FBT003 - a state
        practice = Round(prepared.items, title=prepared.title, exercise=prepared.key, unit=self.unit)
        self._stack.setCurrentWidget(self.round)
        self.round.begin(practice, prepared.words)

    @property
    def takes_space(self) -> bool:
        """Tell whether the pump key belongs to a practice shot now."""
        return self._stack.currentWidget() is self.__dict__.get("round") and self.isVisible()

    def press(self) -> None:
        """Take the pump key for the practice shot."""
        if self.takes_space:
            self.round.press_pump()

    @Slot()
    def _end_round(self) -> None:
        assert self.round.round is not None
        result = self.round.round.result
        self.score.show_result(result)
        self._stack.setCurrentWidget(self.score)
        self.score.chart.show_progress(self._name, None)
        if not result.items:
            self.score.kept.say("Nothing was handed in, so there is nothing to keep.", "quiet")
        elif not self._name:
            self.score.kept.say(NOT_KEPT, "caution")
        else:
            self.score.kept.say("The score is being kept.", "quiet")
            self._scoring.start(partial(keep_score, self._logbook, self._name, result))
        self.score.another_button.setFocus()

    @Slot(object)
    def _take_progress(self, found: tuple[str, Progress, bool]) -> None:
        name, how, kept = found
        self.choosing.chart.show_progress(name, how)
        if "score" in self.__dict__:
            self.score.chart.show_progress(name, how)
            if kept:
                self.score.kept.say(f"✓ Kept among the scores of {name}.", "good")

    @Slot(str)
    def _tell_scores(self, sentence: str) -> None:
        at_end = self._stack.currentWidget() is self.__dict__.get("score")
        (self.score.kept if at_end else self.choosing.said).say(sentence, "bad")

    # -- keys and end --------------------------------------------------------------------------------------

    def show_sitting(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Take the latest picture of the sitting under way: it may be one with the machine to diagnose."""
        if "round" in self.__dict__:
            self.round.head.show_sitting(choice is not None and choice.keep)
        self.diagnosing.look(snapshot, choice)

    @Slot()
    def take_focus(self) -> None:
        """Put the focus where the keyboard goes on."""
        now = self._stack.currentWidget()
        if now is self.choosing:
            self.choosing.take_focus()
        elif now is self.__dict__.get("round"):
            self.round.take_focus()
        elif now is self.__dict__.get("score"):
            self.score.another_button.setFocus()
        elif now is self.exercising.made:
            self.exercising.view.title.setFocus()
        elif now is self.diagnosing.made:
            self.diagnosing.view.show_tests()
            self.diagnosing.view.take_focus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave the score with Esc."""
        if event.key() == Qt.Key.Key_Escape and self._stack.currentWidget() is self.__dict__.get("score"):
            self.show_choice()
        else:
            event.ignore()

    def close_down(self) -> None:
        """Wait for what is being done."""
        if "round" in self.__dict__:
            self.round.close_down()
        self.diagnosing.close_down()
        self.exercising.close_down()
        for work in (self._preparing, self._listing, self._scoring):
            work.join()
