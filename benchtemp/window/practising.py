"""Practice in the window: its page, made when it is first wanted, and the wires to the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.window.pages import LatePage

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.readings.reading import Mark
    from benchtemp.readings.replay import ReplaySource
    from benchtemp.teaching.replay_notes import ReplayNotes
    from benchtemp.window.logbook_page.page import LogbookPage
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.practice_page.page import PracticePage
    from benchtemp.window.probes_page.shelf import ProbeShelf


class Practising(QObject):
    """Holds the Practice page.

    Attributes:
        place: Where the page stands once it is there.

    Signals:
        page_asked: The Practice page is wanted.
        bench_asked: The Bench is wanted again.
        sitting_asked: Carries the `SourceChoice` of a sitting with a machine to diagnose.
        check_asked: Name of a probe to be checked with guidance, and what opens its bath.
    """

    page_asked = Signal()
    bench_asked = Signal()
    sitting_asked = Signal(object)
    check_asked = Signal(str, object)

    def __init__(self, logbook: Logbook, shelf: ProbeShelf, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._logbook = logbook
        self._shelf = shelf
        self.place: LatePage[PracticePage] = LatePage(self._make)

    @property
    def page(self) -> PracticePage:
        """The Practice page."""
        return self.place.page

    def _make(self) -> PracticePage:
        from benchtemp.window.practice_page.page import PracticePage  # noqa: PLC0415 - it brings the plots

        page = PracticePage(self._logbook)
        page.bench_asked.connect(self.bench_asked)
        page.sitting_asked.connect(self.sitting_asked)
        page.check_asked.connect(self.check_asked)
        self._shelf.changed.connect(self._take_checks)
        return page

    @property
    def takes_space(self) -> bool:
        """Tell whether the pump key belongs to a practice shot now."""
        return self.place.made is not None and self.place.made.takes_space

    @Slot()
    def offer_case(self) -> None:
        """Go where a machine to diagnose is taken up."""
        self.page_asked.emit()
        self.page.offer_case()

    def is_case(self, choice: SourceChoice | None) -> bool:
        """Tell whether a sitting is one with a machine to diagnose: its recipe is the exercise's."""
        return self.place.made is not None and self.place.made.diagnosing.is_case(choice)

    def show_sitting(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Hand on where the bench stands: the sitting may be one with a machine to diagnose."""
        if self.place.made is not None:
            self.place.made.show_sitting(snapshot, choice)

    @Slot()
    def _take_checks(self) -> None:
        """Let the machine to diagnose know of the checks of its probe."""
        probe = self._shelf.named(self.page.diagnosing.probe) if self.page.diagnosing.probe else None
        self.page.diagnosing.take_checks(() if probe is None else probe.checks)

    # -- teaching ------------------------------------------------------------------------------------------

    def notes_of(self, source: ReplaySource) -> ReplayNotes:
        """Find where a teacher's notes on a replay are kept."""
        from benchtemp.teaching.replay_notes import ReplayNotes  # noqa: PLC0415 - only a replay needs it

        return ReplayNotes(self._logbook, source.stream, source.name)

    def offer_in(self, logbook: LogbookPage) -> None:
        """Offer to make an exercise of the shots selected, in the logbook's menu."""
        more = logbook.acting.more_button

        def fill() -> None:
            more.entries.addSeparator()
            offer = more.entries.addAction("Make an exercise of the shots…")
            offer.setEnabled(bool(logbook.chosen))
            offer.triggered.connect(lambda: self.make_exercise(logbook.chosen))

        more.wanted.connect(fill)

    @Slot(object)
    def make_exercise(self, paths: tuple[Path, ...]) -> None:
        """Make an exercise of shots of the logbook."""
        self.page_asked.emit()
        self.page.exercising.of_shots(paths)

    def make_exercise_of(self, source: ReplaySource, notes: tuple[Mark, ...]) -> None:
        """Make an exercise of a recording that is being replayed.

        Args:
            source: The replay.
            notes: The teacher's own, which go along.
        """
        self.page_asked.emit()
        self.page.exercising.of_replay(source.stream, notes)
