"""A machine to diagnose: what its owner says, what was tested so far, the fault named, and the marking."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchtemp.teaching.cases.diagnosis import evidence_from, mark_diagnosis
from benchtemp.units import TempUnit, delta_text, temp_text
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.practice_page.case_work import AT_ONCE, SPEEDS, CaseWork
from benchtemp.window.practice_page.naming import CaseVerdict, FaultNaming
from benchtemp.window.sources.background import Background
from benchtemp.window.sources.replay_bar import speed_text

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent

    from benchtemp.probes.check import Check
    from benchtemp.shots.shot import Shot
    from benchtemp.teaching.cases.diagnosis import CaseMarking, Evidence
    from benchtemp.teaching.cases.fault import Diagnosis
    from benchtemp.window.theme import Theme


def shot_line(number: int, shot: Shot, unit: TempUnit) -> str:
    """Return one shot of a diagnosis, for the list."""
    result = shot.result
    parts = [f"Shot {number}", temp_text(result.brew_temp_degc, unit)]
    if result.time_to_plateau_s is not None:
        parts.append(f"plateau after {result.time_to_plateau_s:.1f} s")
    if result.shot_time_s is not None:
        parts.append(f"{result.shot_time_s:.1f} s")
    if shot.dose_g is not None and shot.yield_g is not None:
        parts.append(f"{shot.dose_g:g} g to {shot.yield_g:.1f} g")
    return ", ".join(parts)


def check_line(number: int, check: Check, unit: TempUnit) -> str:
    """Return one check of the probe, for the list."""
    found = [
        f"reads {delta_text(abs(point.error_k), unit)} {'high' if point.error_k > 0 else 'low'} "
        f"at {temp_text(point.reference_degc, unit)}"
        for point in check.points
    ]
    return f"Check {number}, " + "; ".join(found)


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
        self._shown: tuple[object, ...] = ()
        self.step = QLabel()
        self.step.setAccessibleName("What to do next")
        self.step.setWordWrap(True)
        self.title = QLabel()
        self.brief = QLabel()
        self.brief.setTextFormat(Qt.TextFormat.PlainText)
        self.brief.setWordWrap(True)
        self.brief.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self.brief.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.bench_button = button("Pull shots on the Bench", tip="A sitting with this machine")
        self.speed = Choice(
            "Speed of the machine", [(speed, speed_text(speed)) for speed in SPEEDS], least_chars=3
        )
        self.pull_button = button(f"{AT_ONCE} shots at once", tip="Three minutes apart, without waiting")
        self.check_button = button("Check its probe", tip="The guided check on the Probes page")
        self.boil_button = button("Boil it at once", tip="The same check, without waiting")
        self.tested = QLabel()
        self.tested.setTextFormat(Qt.TextFormat.PlainText)
        self.tested.setWordWrap(True)
        self.tested.setAccessibleName("Tests so far")
        self.says_button = button("What do these tests say?", look="flat")
        self.findings = quiet(wrap=True)
        self.said = Sentence(name="Diagnosis")
        self.naming = FaultNaming()
        self.verdict = CaseVerdict()
        self.leave_button = button("Leave this machine", look="flat", tip="Esc")
        self._marked = False
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
        body.addWidget(self._tests_card(), 1)
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
        inside.addWidget(_scrolled(self.brief), 1)
        return card

    def _tests_card(self) -> Panel:
        card = Panel()
        card.setProperty("look", "surface")
        presses = QGridLayout()
        presses.setSpacing(6)
        presses.addWidget(self.bench_button, 0, 0)
        presses.addWidget(self.speed, 0, 1)
        presses.addWidget(self.pull_button, 0, 2)
        presses.addWidget(self.check_button, 1, 0)
        presses.addWidget(self.boil_button, 1, 2)
        presses.setColumnStretch(3, 1)
        inner = QWidget()
        lines = QVBoxLayout(inner)
        lines.setContentsMargins(0, 0, 6, 0)
        lines.addWidget(self.tested)
        lines.addWidget(self.says_button, 0, Qt.AlignmentFlag.AlignLeft)
        lines.addWidget(self.findings)
        lines.addStretch(1)
        inside = QVBoxLayout(card)
        inside.setContentsMargins(14, 10, 8, 10)
        inside.setSpacing(8)
        inside.addWidget(heading("Tests"))
        inside.addLayout(presses)
        inside.addWidget(_scrolled(inner), 1)
        return card

    def _connect(self) -> None:
        self.bench_button.clicked.connect(self._ask_sitting)
        self.pull_button.clicked.connect(self._pull)
        self.check_button.clicked.connect(self.check_asked)
        self.boil_button.clicked.connect(self._boil)
        self.says_button.clicked.connect(self._ask_findings)
        self.naming.named.connect(self._name)
        self.leave_button.clicked.connect(self.left)
        self.verdict.another_asked.connect(self.another_asked)
        self._pulling.done.connect(self._take_pulled)
        self._boiling.done.connect(self._take_boiled)
        self._saying.done.connect(self._show_findings)
        self._marking.done.connect(self._show_marking)
        for background in (self._pulling, self._boiling, self._saying, self._marking):
            background.failed.connect(self._refuse)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.step.setFont(theme.font(1.5, bold=True))
        self.title.setFont(theme.font(1.2, bold=True))
        self.brief.setFont(theme.font(1.05))
        self.tested.setFont(theme.font(figures=True))
        self.naming.set_theme(theme)
        self.verdict.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.naming.set_unit(unit)
        self._shown = ()
        self.findings.setText("")
        if self.work is not None:
            self._show_brief()
            self.show_tests()

    # -- content -------------------------------------------------------------------------------------------

    def begin(self, work: CaseWork) -> None:
        """Take another machine up."""
        self.work = work
        self._shown = ()
        self.naming.begin()
        self.verdict.clear()
        self.findings.setText("")
        self.said.say("")
        self._show_marked(marked=False)
        self._show_brief()
        self.show_tests()
        self.bench_button.setFocus()

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
        lines = [shot_line(number, shot, self.unit) for number, shot in enumerate(work.shots, 1)]
        lines += [check_line(number, check, self.unit) for number, check in enumerate(work.checks, 1)]
        self.tested.setText("\n".join(lines) if lines else "Nothing was tested yet.")
        self.says_button.setVisible(bool(lines))
        self.findings.setText("")
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

    def _let_test(self, *, may: bool) -> None:
        for press in (self.bench_button, self.pull_button, self.check_button, self.boil_button):
            press.setEnabled(may)

    @Slot()
    def _ask_sitting(self) -> None:
        if self.work is not None:
            self.sitting_asked.emit(self.work.next_sitting(float(self.speed.currentData())))

    @Slot()
    def _pull(self) -> None:
        if self.work is not None:
            self.said.say("The shots are being pulled.", "quiet")
            self.pull_button.setEnabled(False)
            self._pulling.start(self.work.pull)

    @Slot(object)
    def _take_pulled(self, pulled: tuple[int, tuple[Shot, ...]]) -> None:
        assert self.work is not None
        self.work.take_pulled(pulled)
        self._after_test(self.pull_button)

    @Slot()
    def _boil(self) -> None:
        if self.work is not None:
            self.said.say("The probe hangs in the pot.", "quiet")
            self.boil_button.setEnabled(False)
            self._boiling.start(self.work.boil)

    @Slot(object)
    def _take_boiled(self, check: Check) -> None:
        assert self.work is not None
        self.work.take_boiled(check)
        self._after_test(self.boil_button)

    def _after_test(self, press: QWidget) -> None:
        self.said.say("")
        press.setEnabled(True)
        press.setFocus()
        self.show_tests()

    @Slot(str)
    def _refuse(self, sentence: str) -> None:
        self.said.say(sentence, "bad")
        self._let_test(may=True)
        self.naming.setEnabled(True)

    @Slot()
    def _ask_findings(self) -> None:
        work = self.work
        if work is not None:
            self._saying.start(
                partial(evidence_from, work.case.brief, work.shots, work.checks, unit=self.unit)
            )

    @Slot(object)
    def _show_findings(self, evidence: Evidence) -> None:
        # The faults these findings leave over are not told: to see which is the exercise.
        told = [finding.sentence for finding in evidence.findings if finding.sentence]
        self.findings.setText("\n".join(f"• {sentence}" for sentence in told) or "They say nothing yet.")

    # -- naming --------------------------------------------------------------------------------------------

    @Slot(object)
    def _name(self, diagnosis: Diagnosis) -> None:
        work = self.work
        if work is not None:
            self.said.say("Your diagnosis is being marked.", "quiet")
            self.naming.setEnabled(False)
            self._marking.start(
                partial(mark_diagnosis, work.case, diagnosis, work.shots, work.checks, unit=self.unit)
            )

    def _show_marked(self, *, marked: bool) -> None:
        self._marked = marked
        self.naming.setEnabled(True)
        self.naming.setVisible(not marked)
        self.verdict.setVisible(marked)
        self._let_test(may=not marked)
        self._say_step()

    @Slot(object)
    def _show_marking(self, marking: CaseMarking) -> None:
        self.said.say("")
        self.verdict.show_marking(marking)
        self._show_marked(marked=True)
        self.verdict.another_button.setFocus()

    # -- keys and end --------------------------------------------------------------------------------------

    @Slot()
    def take_focus(self) -> None:
        """Put the focus where the keyboard goes on."""
        (self.verdict.another_button if self._marked else self.bench_button).setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            event.ignore()

    def close_down(self) -> None:
        """Wait for what is being done."""
        for background in (self._pulling, self._boiling, self._saying, self._marking):
            background.join()


def _scrolled(widget: QWidget) -> QScrollArea:
    scroll = QScrollArea()
    scroll.setWidgetResizable(True)
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    scroll.setWidget(widget)
    return scroll
