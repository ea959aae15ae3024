"""A machine to diagnose: what its owner says, what was tested so far, the fault named, and the marking."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from benchtemp.teaching.cases.diagnosis import evidence_from, mark_diagnosis
from benchtemp.units import TempUnit, temp_text
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, Wrapped, button
from benchtemp.window.practice_page.case_work import CaseWork
from benchtemp.window.practice_page.naming import CaseVerdict, FaultNaming
from benchtemp.window.practice_page.tests_card import TestsCard, scrolled
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.probes.check import Check
    from benchtemp.shots.shot import Shot
    from benchtemp.teaching.cases.case_folder import Work
    from benchtemp.teaching.cases.diagnosis import CaseMarking
    from benchtemp.teaching.cases.fault import Diagnosis
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.theme import Theme

KeepMarking = Callable[[int, "Diagnosis", "CaseMarking"], str]
"""Keeps what became of a case, given its number, and returns under whose name."""


class CaseView(Panel):
    """Leads through a diagnosis.

    Signals:
        sitting_asked: Carries the `SourceChoice` of a sitting with the machine.
        check_asked: Its probe is to be checked with guidance, on the Probes page.
        left: Back to the choice.
        another_asked: Another machine.
    """

    sitting_asked = Signal(object)
    check_asked = Signal()
    left = Signal()
    another_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.work: CaseWork | None = None
        self._keep: KeepMarking | None = None
        self._shown: tuple[object, ...] = ()
        self.step = QLabel()
        self.step.setAccessibleName("What to do next")
        self.step.setWordWrap(True)
        self.title = QLabel()
        self.brief = Wrapped()
        self.brief.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self.brief.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.tests = TestsCard()
        self.said = Sentence(name="Diagnosis")
        self.naming = FaultNaming()
        self.verdict = CaseVerdict()
        self.leave_button = button("Leave this machine", look="flat", tip="Esc")
        self._marked = False
        self._reading = Background(self, name="earlier tests")
        self._keeping = Background(self, name="sitting of a case")
        self._pulling = Background(self, name="shots at once")
        self._boiling = Background(self, name="probe check at once")
        self._saying = Background(self, name="what tests say")
        self._marking = Background(self, name="diagnosis")
        self._lay_out()
        self._connect()

    # -- building ------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.step, 1)
        head.addWidget(self.leave_button)
        body = QHBoxLayout()
        body.setSpacing(10)
        body.addWidget(self._brief_card(), 1)
        body.addWidget(self.tests, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 10)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(self.said)
        column.addLayout(body, 1)
        column.addWidget(self.naming)
        column.addWidget(self.verdict)

    def _brief_card(self) -> Panel:
        card = Panel()
        card.setProperty("look", "surface")
        inside = QVBoxLayout(card)
        inside.setContentsMargins(14, 10, 8, 10)
        inside.addWidget(self.title)
        inside.addWidget(scrolled(self.brief), 1)
        return card

    def _connect(self) -> None:
        self.tests.bench_button.clicked.connect(self._ask_sitting)
        self.tests.pull_button.clicked.connect(self._pull)
        self.tests.check_button.clicked.connect(self.check_asked)
        self.tests.boil_button.clicked.connect(self._boil)
        self.tests.says_button.clicked.connect(self._ask_findings)
        self.naming.named.connect(self._name)
        self.leave_button.clicked.connect(self.left)
        self.verdict.another_asked.connect(self.another_asked)
        self._reading.done.connect(self._take_earlier)
        self._pulling.done.connect(self._take_pulled)
        self._boiling.done.connect(self._take_boiled)
        self._saying.done.connect(self.tests.show_findings)
        self._marking.done.connect(self._show_marking)
        for background in self._work_done:
            background.failed.connect(self._refuse)

    @property
    def _work_done(self) -> tuple[Background, ...]:
        return (
            self._reading,
            self._keeping,
            self._pulling,
            self._boiling,
            self._saying,
            self._marking,
        )

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.step.setFont(theme.font(1.5, bold=True))
        self.title.setFont(theme.font(1.2, bold=True))
        self.brief.setFont(theme.font(1.05))
        self.tests.set_theme(theme)
        self.naming.set_theme(theme)
        self.verdict.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.naming.set_unit(unit)
        self.tests.set_unit(unit)
        self._shown = ()
        if self.work is not None:
            self._show_brief()
            self.show_tests()

    # -- content -------------------------------------------------------------------------------------------

    def begin(self, work: CaseWork, keep: KeepMarking | None = None) -> None:
        """Take another machine up.

        Args:
            work: It, and what is done with it.
            keep: Keeps what becomes of it, and returns under whose name; None keeps nothing.
        """
        self.work, self._keep = work, keep
        self._shown = ()
        self.naming.begin()
        self.verdict.clear()
        self.said.say("")
        self._show_marked(marked=False)
        self._show_brief()
        self.show_tests()
        self.tests.bench_button.setFocus()
        self._reading.start(work.read_earlier)

    @Slot(object)
    def _take_earlier(self, earlier: Work) -> None:
        assert self.work is not None
        self.work.take_earlier(earlier)
        self.show_tests()

    def look(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Take the latest picture of the sitting under way; once it is over, keep it with the case."""
        work = self.work
        if work is None:
            return
        work.look(snapshot, choice)
        if choice is None:
            keep = work.end_sitting()
            if keep is not None:
                self._keeping.start(keep)
        if self.isVisible():
            self.show_tests()

    def _show_brief(self) -> None:
        assert self.work is not None
        brief = self.work.case.brief
        self.title.setText(f"{brief.machine}, number {brief.code}")
        low_s, high_s = brief.shot_time_s
        recipe = (
            f"Its display says {temp_text(brief.display_degc, self.unit)}. "
            f"{brief.dose_g:g} g are to give {brief.yield_g:g} g in {low_s:g} to {high_s:g} s."
        )
        told = (
            f"“{brief.complaint}”",
            f"{brief.build[:1].upper()}{brief.build[1:]}. {recipe}",
            "A sound machine of this build:\n" + "\n".join(f"• {line}" for line in brief.sound),
            "What you can do:\n" + "\n".join(f"• {line}" for line in brief.tests),
        )
        self.brief.setText("\n\n".join(told))

    @Slot()
    def show_tests(self) -> None:
        """Show the tests made so far; cheap enough to be asked often."""
        work = self.work
        if work is None:
            return
        key = (work.shots, work.checks)
        if key == self._shown:
            return
        self._shown = key
        self.tests.show_tests(work.shots, work.checks, work.case.brief.display_degc)
        self._say_step()

    def _say_step(self) -> None:
        if self._marked:
            text = "Read what your tests showed. Enter takes another machine; Esc leads back to the choice."
        elif self.work is not None and (self.work.shots or self.work.checks):
            text = "Test until only one fault explains what you see; then name it below."
        else:
            text = "Plan your tests: shots on the Bench, a check of the probe. Ctrl+6 leads back here."
        self.step.setText(text)

    # -- testing -------------------------------------------------------------------------------------------

    @Slot()
    def _ask_sitting(self) -> None:
        if self.work is not None:
            self.sitting_asked.emit(self.work.next_sitting(float(self.tests.speed.currentData())))

    @Slot()
    def _pull(self) -> None:
        if self.work is not None:
            self.said.say("The shots are being pulled.", "quiet")
            self.tests.pull_button.setEnabled(False)
            self._pulling.start(self.work.pull)

    @Slot(object)
    def _take_pulled(self, pulled: tuple[int, tuple[Shot, ...]]) -> None:
        assert self.work is not None
        self.work.take_pulled(pulled)
        self._after_test(self.tests.pull_button)

    @Slot()
    def _boil(self) -> None:
        if self.work is not None:
            self.said.say("The probe hangs in the pot.", "quiet")
            self.tests.boil_button.setEnabled(False)
            self._boiling.start(self.work.boil)

    @Slot(object)
    def _take_boiled(self, check: Check) -> None:
        assert self.work is not None
        self.work.take_boiled(check)
        self._after_test(self.tests.boil_button)

    def _after_test(self, press: QWidget) -> None:
        self.said.say("")
        press.setEnabled(True)
        press.setFocus()
        self.show_tests()

    @Slot(str)
    def _refuse(self, sentence: str) -> None:
        self.said.say(sentence, "bad")
        self.tests.let_test(may=True)
        self.naming.setEnabled(True)

    @Slot()
    def _ask_findings(self) -> None:
        work = self.work
        if work is not None:
            self._saying.start(
                partial(evidence_from, work.case.brief, work.shots, work.checks, unit=self.unit)
            )

    # -- naming --------------------------------------------------------------------------------------------

    @Slot(object)
    def _name(self, diagnosis: Diagnosis) -> None:
        work = self.work
        if work is None:
            return
        if not work.shots and not work.checks:
            self.said.say("Nothing was tested yet; pull a shot or check the probe first.", "caution")
            return
        self.said.say("Your diagnosis is being marked.", "quiet")
        self.naming.setEnabled(False)
        self._marking.start(partial(_marked, work, diagnosis, self.unit, self._keep))

    def _show_marked(self, *, marked: bool) -> None:
        self._marked = marked
        self.naming.setEnabled(True)
        self.naming.setVisible(not marked)
        self.verdict.setVisible(marked)
        self.tests.let_test(may=not marked)
        self._say_step()

    @Slot(object)
    def _show_marking(self, marked: tuple[CaseMarking, str]) -> None:
        marking, name = marked
        self.said.say(f"✓ Kept among the scores of {name}." if name else "", "good")
        self.verdict.show_marking(marking)
        self._show_marked(marked=True)
        self.verdict.another_button.setFocus()

    # -- keys and end --------------------------------------------------------------------------------------

    @Slot()
    def take_focus(self) -> None:
        """Put the focus where the keyboard goes on."""
        (self.verdict.another_button if self._marked else self.tests.bench_button).setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            event.ignore()

    def close_down(self) -> None:
        """Wait for what is being done."""
        for background in self._work_done:
            background.join()


def _marked(
    work: CaseWork, diagnosis: Diagnosis, unit: TempUnit, keep: KeepMarking | None
) -> tuple[CaseMarking, str]:
    marking = mark_diagnosis(work.case, diagnosis, work.shots, work.checks, unit=unit)
    return marking, "" if keep is None else keep(work.case.code, diagnosis, marking)
