"""What a sitting's beginning, its course and its end mean for the pages and the large view."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Slot

from benchtemp.readings.replay import ReplaySource
from benchtemp.window.messages import Message, Weight
from benchtemp.window.probes_page.shelf import time_constant_s
from benchtemp.window.virtual_machine import own_tags

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.window.choices import Choices
    from benchtemp.window.main_window import MainWindow
    from benchtemp.window.pages import LatePage
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.probes_page.page import ProbesPage
    from benchtemp.window.probes_page.shelf import ProbeShelf


class Sittings(QObject):
    """Hands a sitting round: to the pages that show it, and to what is remembered of it.

    Attributes:
        snapshot: Where the bench stood when it was last looked at, None without a source.
    """

    def __init__(
        self, window: MainWindow, choices: Choices, shelf: ProbeShelf, probes_place: LatePage[ProbesPage]
    ) -> None:
        super().__init__(window)
        self._window = window
        self._choices = choices
        self._shelf = shelf
        self._probes_place = probes_place
        self.snapshot: Snapshot | None = None
        self._probes_on: tuple[str, ...] = ()
        shelf.changed.connect(self._take_time_constant)
        session = window.session
        session.begun.connect(self._begin)
        session.ended.connect(self._end)
        session.looked.connect(self._show)
        session.failed.connect(self.fail)

    # -- beginning and end ---------------------------------------------------------------------------------

    @Slot(object)
    def _begin(self, choice: SourceChoice) -> None:
        window = self._window
        window.board.clear("source", "status", "refused", "dismissed")
        self._remember(choice)
        window.bench.begin(choice)
        window.large.begin(choice)
        window.reporter.begin(choice)
        window.back_to_bench()
        window.bench.focus_start()

    def _remember(self, choice: SourceChoice) -> None:
        again = dict(choice.begin_again or {})
        if again:
            self._choices.change(last_source=again)
        if again.get("kind") == "replay":
            self._choices.take(self._choices.now.with_recent(Path(str(again["path"]))))

    @Slot(object)
    def begin_case(self, choice: SourceChoice) -> None:
        """Begin a sitting with a machine to diagnose, whose dose is known."""
        session = self._window.session
        session.begin(choice)
        session.enter(f"dose_g={self._window.practising.page.diagnosing.dose_g:g}")

    @Slot()
    def _end(self) -> None:
        window = self._window
        window.bench.end()
        window.bench.plot.set_time_constant(None)
        self._probes_on = ()
        window.reporter.end()
        window.large.begin(None)
        window.choose_source()

    @Slot(str)
    def fail(self, sentence: str) -> None:
        """Let a sentence about the source stand above the pages."""
        self._window.board.put(Message("source", Weight.TROUBLE, sentence))

    # -- course --------------------------------------------------------------------------------------------

    @Slot(object)
    def _show(self, snapshot: Snapshot | None) -> None:
        """Show where the bench stands, in what can be seen."""
        self.snapshot = snapshot
        window = self._window
        choice = window.session.choice
        if window.large.shown:
            window.large.show_snapshot(snapshot)
        else:
            window.bench.show_snapshot(snapshot)
        window.planning.show_snapshot(snapshot, choice)
        window.reporter.look(snapshot)
        if snapshot is not None and snapshot.probes != self._probes_on:
            self._probes_on = snapshot.probes
            self._shelf.read()
        if self._probes_place.made is not None:
            self._probes_place.made.show_sitting(snapshot, choice)
        window.practising.show_sitting(snapshot, choice)
        if snapshot is not None and choice is not None:
            self._remember_entries(snapshot, choice)

    def _remember_entries(self, snapshot: Snapshot, choice: SourceChoice) -> None:
        """Remember recipe and tags for the next sitting, where they are the user's own."""
        planning = self._window.planning
        if choice.keep and not self._window.practising.is_case(choice):
            tags = planning.own_tags(own_tags(choice.source, snapshot.tags))
            self._choices.change(recipe=planning.own_recipe(snapshot.recipe), tags=tags)

    @Slot()
    def _take_time_constant(self) -> None:
        """Let the plot know the time constant of the basket's probe."""
        tau_s = time_constant_s(self._shelf, self.snapshot, self._window.session.choice)
        self._window.bench.plot.set_time_constant(tau_s)

    # -- teaching ------------------------------------------------------------------------------------------

    @Slot()
    def teach(self) -> None:
        """Let the large view follow the lesson, and say nothing of results while they are hidden."""
        teaching = self._window.bench.teaching
        self._window.large.teach(teaching.lesson if teaching.running else None)
        self._window.reporter.hide_results(teaching.lesson.hidden)

    @Slot()
    def make_exercise(self) -> None:
        """Make an exercise of the recording being replayed."""
        choice = self._window.session.choice
        source = choice.source if choice is not None else None
        if isinstance(source, ReplaySource):
            notes = self._window.bench.teaching.lesson.notes
            self._window.practising.make_exercise_of(source, notes)
