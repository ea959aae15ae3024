"""The strip on the Bench page for a plan under way: a countdown to be read from afar, and what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import button, quiet
from benchtemp.window.plot.canvas import minutes_text
from benchtemp.window.theme import figure_width, repolish

if TYPE_CHECKING:
    from PySide6.QtGui import QResizeEvent

    from benchtemp.studies.plans.status import Done
    from benchtemp.units import TempUnit
    from benchtemp.window.plan_run import PlanRun
    from benchtemp.window.theme import Theme

_SCALE = 3.4
_USUAL_PX = 900
_MOST = 1.7
_NOW_S = 1.0


def countdown(wait_s: float | None, *, pulling: bool = False, finished: bool = False) -> tuple[str, str, str]:
    """Return the figure, the words under it, and the look of the figure.

    Args:
        wait_s: Until the pump is to be started; negative once it is late, None for no time set.
        pulling: A shot is under way.
        finished: There is nothing left to pull.
    """
    if finished:
        return "✓", "all done", "good"
    if pulling:
        return "…", "shot under way", "quiet"
    if wait_s is None:
        return "—", "when you are ready", "quiet"
    if abs(wait_s) < _NOW_S:
        return "NOW", "start the pump", "good"
    if wait_s > 0:
        return minutes_text(wait_s), "to pump start", ""
    return f"+{minutes_text(-wait_s)}", "late", "caution"


def last_words(done: Done | None) -> str:
    """Return how the last shot of the plan was: late, early, put back."""
    if done is None:
        return ""
    remarks = list(done.remarks)
    if done.put_back:
        remarks.append("it is put back and will be pulled again")
    if not remarks:
        remarks.append("counts" if done.late_s is None else "started on time")
    return f"Last: shot {done.step.number}, {'; '.join(remarks)}."


class PlanStrip(Panel):
    """Shows a plan under way; takes no room without one.

    Signals:
        left: The plan is to be left for now.
        finding_asked: What its shots say is to be seen.
        mute_asked: Sound is to be muted, or no longer.
    """

    left = Signal()
    finding_asked = Signal()
    mute_asked = Signal()

    def __init__(self, parent: QWidget | None = None, *, scale: float = 1.0, tools: bool = True) -> None:
        """Build the strip.

        Args:
            parent: Widget it belongs to.
            scale: How much larger than usual everything is written.
            tools: Whether it has its buttons.
        """
        super().__init__(parent)
        self._scale = scale
        self._tools = tools
        self.setProperty("look", "surface")
        self.setAccessibleName("Plan under way")
        self._run: PlanRun | None = None
        self._guide = ""
        self.figure = QLabel("—")
        self.figure.setAccessibleName("Time to the next pump start")
        self.figure.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.words = quiet()
        self.name = quiet()
        self.sentence = QLabel()
        self.sentence.setTextFormat(Qt.TextFormat.PlainText)
        self.sentence.setWordWrap(True)
        self.sentence.setAccessibleName("Next shot of the plan")
        self.last = quiet(wrap=True)
        self.sound_button = button("", look="flat", tip="Sound before each start, or none (M)")
        self.sound_button.clicked.connect(self.mute_asked)
        self.leave_button = button("Leave plan", look="flat", tip="It can be taken up again on the Plan page")
        self.leave_button.clicked.connect(self.left)
        self.finding_button = button("See the finding", look="primary")
        self.finding_button.clicked.connect(self.finding_asked)
        self.finding_button.hide()
        self._lay_out()
        self.show_muted(muted=False)
        self.hide()

    def _lay_out(self) -> None:
        clock = QVBoxLayout()
        clock.setSpacing(0)
        clock.addWidget(self.figure)
        self.words.setAlignment(Qt.AlignmentFlag.AlignRight)
        clock.addWidget(self.words)
        middle = QVBoxLayout()
        middle.setSpacing(1)
        middle.addWidget(self.name)
        middle.addWidget(self.sentence)
        middle.addWidget(self.last)
        middle.addStretch(1)
        side = QVBoxLayout()
        side.setSpacing(2)
        side.addWidget(self.finding_button)
        side.addWidget(self.sound_button)
        side.addWidget(self.leave_button)
        side.addStretch(1)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(14, 4, 8, 4)
        layout.setSpacing(18)
        layout.addLayout(clock)
        layout.addLayout(middle, 1)
        if self._tools:
            layout.addLayout(side)
        else:
            for widget in (self.finding_button, self.sound_button, self.leave_button):
                widget.setParent(self)
                widget.hide()

    def set_theme(self, theme: Theme) -> None:
        """Take fonts."""
        super().set_theme(theme)
        self._fit()

    def _fit(self) -> None:
        """Take fonts as large as the window allows, the figure to be read from two metres."""
        more = min(max(self.width() / _USUAL_PX, 1.0), _MOST)
        scale = self._scale
        font = self.theme.font(_SCALE * scale * more, bold=True, figures=True)
        if font == self.figure.font():
            return
        self.figure.setFont(font)
        self.figure.setMinimumWidth(figure_width(font, "+00:00"))
        self.sentence.setFont(self.theme.font(1.3 * scale * more**0.6, bold=True, figures=True))
        small = self.theme.font(scale * more**0.5)
        for label in (self.words, self.name, self.last):
            label.setFont(small)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Grow with the window."""
        super().resizeEvent(event)
        self._fit()

    def set_unit(self, unit: TempUnit) -> None:
        """Say setpoints in another unit."""
        super().set_unit(unit)
        self.show_plan()

    def follow(self, run: PlanRun) -> None:
        """Show what this run tells."""
        self._run = run
        run.changed.connect(self.show_plan)
        self.show_plan()

    @Slot()
    def show_plan(self) -> None:
        """Show which plan, and what is next."""
        run = self._run
        plan = run.plan if run is not None else None
        if run is None or plan is None:
            self.hide()
            return
        status = run.status
        if status is None:
            self.name.setText(plan.name)
            self.sentence.setText("Reading what was pulled for this plan.")
        else:
            self.name.setText(f"{plan.name}: {status.counted} of {plan.count} done")
        finished = status is not None and status.finished
        self.finding_button.setVisible(finished and self._tools)
        self.sound_button.setVisible(not finished and self._tools)
        self.show_time()
        self.show()

    @Slot()
    def show_time(self) -> None:
        """Show the countdown."""
        run = self._run
        if run is None or run.plan is None:
            return
        finished = run.status is not None and run.status.finished
        figure, words, look = countdown(run.wait_s, pulling=run.pulling, finished=finished)
        status = run.status
        if status is not None:
            step = status.next_step if run.pulling else None
            sentence = (
                status.sentence(self.unit)
                if step is None
                else f"Shot {step.number} of {run.plan.count} is under way."
            )
            if sentence != self.sentence.text():
                self.sentence.setText(sentence)
        done = status.done if status is not None else ()
        more = self._guide if run.pulling else last_words(done[-1] if done else None)
        if more != self.last.text():
            self.last.setText(more)
        if figure != self.figure.text():
            self.figure.setText(figure)
        if words != self.words.text():
            self.words.setText(words)
        if look != (self.figure.property("look") or ""):
            self.figure.setProperty("look", look)
            repolish(self.figure)

    def show_guide(self, text: str) -> None:
        """Take the sentence on what to do at this moment; it is shown while a shot is under way."""
        self._guide = text

    def show_muted(self, *, muted: bool) -> None:
        """Show whether there is sound."""
        self.sound_button.setText("Sound off (M)" if muted else "Sound on (M)")
