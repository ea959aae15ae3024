"""The tests of a machine to diagnose: how to make them, those made so far, and what they say."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from benchtemp.teaching.cases.evidence import grind_percent, set_degc
from benchtemp.units import TempUnit, delta_text, temp_text
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import button, heading, quiet
from benchtemp.window.practice_page.case_work import AT_ONCE, SPEEDS
from benchtemp.window.sources.replay_bar import speed_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.probes.check import Check
    from benchtemp.shots.shot import Shot
    from benchtemp.teaching.cases.diagnosis import Evidence
    from benchtemp.window.theme import Theme

_SAME_K = 0.05
_USUAL_GRIND = 100.0


def shot_line(number: int, shot: Shot, unit: TempUnit, found_degc: float) -> str:
    """Return one shot of a diagnosis, for the list: what was set otherwise than found, and what came out.

    Args:
        number: From 1.
        shot: The shot.
        unit: Of the temperatures.
        found_degc: What the machine's display says as it is found.
    """
    result = shot.result
    parts = [f"Shot {number}"]
    setpoint_degc = set_degc(shot)
    if setpoint_degc is not None and abs(setpoint_degc - found_degc) > _SAME_K:
        parts.append(f"set to {temp_text(setpoint_degc, unit)}")
    if grind_percent(shot) != _USUAL_GRIND:
        parts.append(f"grind {grind_percent(shot):g} %")
    parts.append(temp_text(result.brew_temp_degc, unit))
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


class TestsCard(Panel):
    """Offers tests and lists them.

    Attributes:
        bench_button, pull_button: Shots on the Bench, or at once.
        check_button, boil_button: The probe's check with guidance, or at once.
        speed: How fast the machine's clock runs on the Bench.
        says_button: What the tests say, asked for.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Tests")
        self.bench_button = button("Pull shots on the Bench", tip="A sitting with this machine")
        speeds = [(speed, speed_text(speed)) for speed in SPEEDS]
        self.speed = Choice("Speed of the machine", speeds, least_chars=3)
        self.pull_button = button(f"{AT_ONCE} shots at once", tip="Some minutes apart, without waiting")
        self.check_button = button("Check its probe", tip="The guided check on the Probes page")
        self.boil_button = button("Boil it at once", tip="The same check, without waiting")
        self.tested = QLabel()
        self.tested.setTextFormat(Qt.TextFormat.PlainText)
        self.tested.setWordWrap(True)
        self.tested.setAccessibleName("Tests so far")
        self.says_button = button("What do these tests say?", look="flat")
        self.findings = quiet(wrap=True)
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
        inside = QVBoxLayout(self)
        inside.setContentsMargins(14, 10, 8, 10)
        inside.setSpacing(8)
        inside.addWidget(heading("Tests"))
        inside.addLayout(presses)
        inside.addWidget(scrolled(inner), 1)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.tested.setFont(theme.font(figures=True))

    def let_test(self, *, may: bool) -> None:
        """Offer tests, or none any more."""
        for press in (self.bench_button, self.pull_button, self.check_button, self.boil_button, self.speed):
            press.setEnabled(may)

    def show_tests(self, shots: Sequence[Shot], checks: Sequence[Check], found_degc: float) -> None:
        """List the tests made so far; what earlier ones said is put away.

        Args:
            shots: In the order pulled.
            checks: Of the probe.
            found_degc: What the machine's display says as it is found.
        """
        lines = [shot_line(number, shot, self.unit, found_degc) for number, shot in enumerate(shots, 1)]
        lines += [check_line(number, check, self.unit) for number, check in enumerate(checks, 1)]
        self.tested.setText("\n".join(lines) if lines else "Nothing was tested yet.")
        self.says_button.setVisible(bool(lines))
        self.findings.setText("")

    def show_findings(self, evidence: Evidence) -> None:
        """Tell what the tests say. The faults that leaves over are not told: to see which is the exercise."""
        told = [finding.sentence for finding in evidence.findings if finding.sentence]
        self.findings.setText("\n".join(f"• {sentence}" for sentence in told) or "They say nothing yet.")


def scrolled(widget: QWidget) -> QScrollArea:
    """Return a widget in an area that scrolls up and down where it must."""
    scroll = QScrollArea()
    scroll.setWidgetResizable(True)
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    scroll.setWidget(widget)
    return scroll
