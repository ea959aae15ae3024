"""The machine to diagnose on the Practice page: taken up, tested, named."""

from __future__ import annotations

from functools import cached_property, partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.errors import BadInput
from benchtemp.window.practice_page.choosing import any_code
from benchtemp.window.practice_page.keeping import keep_named

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.probes.check import Check
    from benchtemp.window.panel import Panel, SourceChoice
    from benchtemp.window.practice_page.case_view import CaseView
    from benchtemp.window.practice_page.case_work import CaseWork


class Diagnosing(QObject):
    """Holds the view of the machine to diagnose, made when it is first wanted.

    Signals:
        shown: Carries the view, which is wanted in front.
        left: Back to the choice.
        refused: A machine cannot be taken up; why, in a sentence.
        another_asked: Number of another machine.
        sitting_asked: Carries the `SourceChoice` of a sitting with the machine.
        check_asked: Name of its probe, and what opens its pot: a callable that takes the `Bath` and returns a
            `SourceChoice`.
    """

    shown = Signal(object)
    left = Signal()
    refused = Signal(str)
    another_asked = Signal(int)
    sitting_asked = Signal(object)
    check_asked = Signal(str, object)

    def __init__(self, logbook: Logbook, place: Callable[[Panel], None], parent: QObject) -> None:
        """Prepare.

        Args:
            logbook: Where tests and scores are kept.
            place: Puts a view among the others of the page.
            parent: The page.
        """
        super().__init__(parent)
        self._logbook = logbook
        self._place = place

    @cached_property
    def view(self) -> CaseView:
        """The machine to diagnose."""
        from benchtemp.window.practice_page.case_view import CaseView  # noqa: PLC0415 - rarely needed

        view = CaseView()
        self._place(view)
        view.sitting_asked.connect(self.sitting_asked)
        view.check_asked.connect(self._ask_check)
        view.left.connect(self.left)
        view.another_asked.connect(self._take_any)
        return view

    @property
    def made(self) -> CaseView | None:
        """Return the view if it is there already."""
        return self.view if "view" in self.__dict__ else None

    @property
    def work(self) -> CaseWork | None:
        """Return what is done with the machine taken up, None without one."""
        return None if self.made is None else self.made.work

    def begin(self, code: int, trainee: str) -> None:
        """Take a machine up.

        Args:
            code: Its number.
            trainee: Under whose name the marking is kept, empty for nobody's.
        """
        from benchtemp.teaching.cases.case import Case  # noqa: PLC0415 - it brings the virtual machine
        from benchtemp.window.practice_page.case_work import CaseWork  # noqa: PLC0415 - as above

        try:
            work = CaseWork(Case(code), self._logbook)
        except BadInput as error:
            self.refused.emit(str(error))
            return
        self.shown.emit(self.view)
        self.view.begin(work, partial(keep_named, self._logbook, trainee) if trainee else None)

    @Slot()
    def _take_any(self) -> None:
        self.another_asked.emit(any_code())

    @Slot()
    def _ask_check(self) -> None:
        if self.work is not None:
            self.check_asked.emit(self.work.probe, self.work.pot)

    @property
    def probe(self) -> str:
        """Return the name of the probe whose checks count for the machine, empty for none."""
        return "" if self.work is None else self.work.probe

    def is_case(self, choice: SourceChoice | None) -> bool:
        """Tell whether a sitting is one with the machine to diagnose."""
        return self.work is not None and self.work.is_of(choice)

    @property
    def dose_g(self) -> float | None:
        """Return the dose that is locked in at the machine, None without one."""
        return None if self.work is None else self.work.case.brief.dose_g

    def take_checks(self, checks: Sequence[Check]) -> None:
        """Take the checks kept for its probe."""
        if self.work is not None:
            self.work.take_guided(checks)
            self.view.show_tests()

    def look(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Take the latest picture of the sitting under way: it may be one with the machine."""
        if self.made is not None:
            self.made.look(snapshot, choice)

    def close_down(self) -> None:
        """Wait for what is being done."""
        if self.made is not None:
            self.made.close_down()
