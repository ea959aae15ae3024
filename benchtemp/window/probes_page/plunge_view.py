"""Measuring a probe's time constant by plunges: cautions, source, the plunge itself, and the question."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.probes.plunge import PlungeState, PlungeWatch
from benchtemp.probes.response import TimeConstant, mean_time_constant
from benchtemp.readings.reading import NoticeKind
from benchtemp.readings.virtual.pot import VirtualPot
from benchtemp.units import delta_text, temp_text
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.probes_page.bath_plot import BathPlot
from benchtemp.window.probes_page.bath_source import BathSource, Gathered, value_of
from benchtemp.window.probes_page.caution_step import CautionStep, Method
from benchtemp.window.probes_page.source_step import SourceStep
from benchtemp.window.probes_page.texts import lag_text, now_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from PySide6.QtGui import QKeyEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.probes.probe import Probe
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_TITLES = ("cautions first", "where readings come from", "the plunge")
_SAID = {
    PlungeState.RESTING: "Keep the dry probe still in the air of the room …",
    PlungeState.READY: "▼ Plunge it now, in one go, and keep it moving in the water",
    PlungeState.MOVING: "… settling: leave it in the water",
    PlungeState.DONE: "✓ Done",
}


class PlungeView(Panel):
    """Leads through one or more plunges.

    Signals:
        left: Over, or given up.
        agreed: Name of the probe and its `TimeConstant`, which the user said yes to.
        under_way_changed: Whether something would be lost by beginning anew.
    """

    left = Signal()
    agreed = Signal(str, object)
    under_way_changed = Signal(bool)

    def __init__(self, source: BathSource, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Time constant of a probe")
        self._source = source
        self._probe = ""
        self._channel = 0
        self._watch: PlungeWatch | None = None
        self._gathered = Gathered()
        self.plunges: list[TimeConstant] = []
        self.known_channels: Callable[[], Mapping[str, str]] = dict
        self.title = QLabel()
        self.caution = CautionStep((Method.PLUNGE,))
        self.source_step = SourceStep(source)
        self._live = QWidget()
        self._build_live()
        self._stack = QStackedWidget()
        for step in (self.caution, self.source_step, self._live):
            self._stack.addWidget(step)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 14, 10)
        column.setSpacing(8)
        column.addWidget(self.title)
        column.addWidget(self._stack, 1)
        self._connect()

    def _build_live(self) -> None:
        self.state = QLabel()
        self.state.setWordWrap(True)
        self.now = quiet()
        self.trouble = Sentence(look="bad", name="Plunge")
        self.plot = BathPlot(shown_s=60.0)
        self.result = Sentence(look="", name="Result")
        self.again_button = button("Plunge again", tip="Three plunges tell how far they differ")
        self.save_button = button("Yes, save it in the probe's file", look="primary")
        self.drop_button = button("Set it aside, save nothing")
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addWidget(self.drop_button)
        row.addStretch(1)
        row.addWidget(self.again_button)
        row.addWidget(self.save_button)
        column = QVBoxLayout(self._live)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        for widget in (self.state, self.now, self.trouble):
            column.addWidget(widget)
        column.addWidget(self.plot, 1)
        column.addWidget(self.result)
        column.addLayout(row)

    def _connect(self) -> None:
        self.caution.left.connect(self._leave)
        self.caution.went_on.connect(self._to_source)
        self.source_step.left.connect(self._to_caution)
        self.source_step.went_on.connect(self._to_plunge)
        self.again_button.clicked.connect(self._again)
        self.save_button.clicked.connect(self._save)
        self.drop_button.clicked.connect(self._leave)
        self._source.looked.connect(self._take_picture)
        self._source.failed.connect(self._tell_failure)
        self._source.replaced.connect(self._source_gone)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.25, bold=True))
        self.state.setFont(theme.font(1.35, bold=True))
        self.now.setFont(theme.font(1.1, figures=True))
        for step in (self.caution, self.source_step, self.plot):
            step.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        for step in (self.caution, self.source_step, self.plot):
            step.set_unit(unit)
        self._show_result()

    # -- the steps -----------------------------------------------------------------------------------------

    @property
    def under_way(self) -> bool:
        """Tell whether something would be lost by beginning anew."""
        return self._stack.currentWidget() is self._live

    def begin(self, probe: Probe) -> None:
        """Begin for a probe; what is under way goes on instead."""
        if self.under_way:
            return
        self._probe = probe.name
        self.plunges = []
        self._to_caution()

    def _go_to(self, step: QWidget) -> None:
        self._stack.setCurrentWidget(step)
        self.under_way_changed.emit(self.under_way)
        number = self._stack.currentIndex()
        self.title.setText(
            f"Time constant of {self._probe}: {_TITLES[number]} ({number + 1} of {len(_TITLES)})"
        )

    @Slot()
    def _to_caution(self) -> None:
        self._go_to(self.caution)
        self.caution.begin()

    @Slot()
    def _to_source(self) -> None:
        self._go_to(self.source_step)
        self.source_step.begin(Method.PLUNGE, self._probe, (self._probe,), self.known_channels())

    @Slot(object)
    def _to_plunge(self, channels: dict[int, str]) -> None:
        self._channel = next(iter(channels))
        self._go_to(self._live)
        choice = self._source.choice
        # The virtual probe plunges by itself soon after its source was opened: open it anew for this.
        self._begin_plunge(anew=choice is not None and isinstance(choice.source, VirtualPot))

    def _begin_plunge(self, *, anew: bool) -> None:
        if anew:
            self.source_step.begin_virtual()
        self._gathered = Gathered()
        self._gathered.begin(self._source.snapshot, self._source.choice)
        self._watch = PlungeWatch(measured=now_text())
        self.plot.begin((self._probe,), None)
        self.trouble.say("")
        self._show_state()
        self._show_result()
        self.drop_button.setFocus()

    @Slot()
    def _again(self) -> None:
        choice = self._source.choice
        self._begin_plunge(anew=choice is not None and isinstance(choice.source, VirtualPot))

    def leave(self) -> None:
        """Leave what was begun, unless something would be lost by it."""
        if not self.under_way:
            self._source.end()
            self._stack.setCurrentWidget(self.caution)

    @Slot()
    def _leave(self) -> None:
        self._watch = None
        self._source.end()
        self._stack.setCurrentWidget(self.caution)
        self.under_way_changed.emit(False)  # noqa: FBT003 - a signal's argument
        self.left.emit()

    # -- readings ------------------------------------------------------------------------------------------

    @Slot(object)
    def _take_picture(self, snapshot: Snapshot) -> None:
        watch = self._watch
        if watch is None:
            return
        fresh = self._gathered.take(snapshot)
        try:
            for reading in fresh:
                watch.step(reading.t_s, value_of(reading, self._channel))
        except BadInput as error:
            self._stop(str(error))
            return
        if snapshot.status in {NoticeKind.LOST, NoticeKind.GARBAGE}:
            self.trouble.say(snapshot.status_text)
        else:
            self.trouble.say("")
        if fresh:
            self._show_state()
            times, temps = watch.trace()
            self.plot.show_readings(times - times[0] if len(times) else times, temps.reshape(-1, 1), None)
        if watch.result is not None:
            self._watch = None
            self.plunges.append(watch.result)
            self._show_result()
            self.again_button.setFocus()

    @Slot(str)
    def _tell_failure(self, sentence: str) -> None:
        if self._watch is not None:
            self._stop(sentence)

    @Slot()
    def _source_gone(self) -> None:
        if self._watch is not None and len(self._gathered.readings):
            self._stop("The source was closed or another one opened; plunge again.")

    def _stop(self, sentence: str) -> None:
        self._watch = None
        self.trouble.say(sentence)
        self.state.setText("✕ No plunge was read")
        self._show_result()
        self.again_button.setFocus()

    # -- showing -------------------------------------------------------------------------------------------

    def _show_state(self) -> None:
        watch = self._watch
        if watch is None:
            return
        self.state.setText(_SAID[watch.state])
        self.now.setText(f"{self._probe}: {temp_text(watch.temp_degc, self.unit, 2)}")

    def mean(self) -> TimeConstant | None:
        """Return what all plunges so far come to, None before the first."""
        return mean_time_constant(self.plunges) if self.plunges else None

    def _show_result(self) -> None:
        mean = self.mean()
        self.save_button.setEnabled(mean is not None and self._watch is None)
        self.again_button.setEnabled(self._watch is None)
        if mean is None:
            self.result.say("")
            return
        single = [f"{plunge.tau_s:.2f} s" for plunge in self.plunges]
        count = "one plunge" if len(single) == 1 else f"{len(single)} plunges ({', '.join(single)})"
        fits = (
            "✓ the trace follows one exponential"
            if mean.first_order
            else "! the trace does not follow one exponential: take it as a rough figure, or plunge in one go"
        )
        self.result.say(
            f"Time constant {lag_text(mean)} (k = 2) from {count}; 63.2 % of the step after "
            f"{mean.crossing_s:.2f} s; {fits}; scatter about it {delta_text(mean.scatter_k, self.unit)}. "
            f"95 % of a step takes {3 * mean.tau_s:.1f} s."
        )

    # -- what the user wants -------------------------------------------------------------------------------

    @Slot()
    def _save(self) -> None:
        mean = self.mean()
        if mean is not None:
            self.agreed.emit(self._probe, mean)

    def saved(self) -> None:
        """Take note that all was written."""
        self._leave()

    def not_saved(self, sentence: str) -> None:
        """Take note that it was not: the result stays, to be tried again or set aside."""
        self.trouble.say(sentence)
        self.save_button.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go a step back with Esc, where nothing is lost by it."""
        step = self._stack.currentWidget()
        if event.key() != Qt.Key.Key_Escape or step is self._live:
            event.ignore()
        elif step is self.source_step:
            self.source_step.go_back()
        else:
            self._leave()

    def close_down(self) -> None:
        """Let go of sources and threads, for good."""
        self._watch = None
        self.source_step.end()


def with_lag(lag: TimeConstant) -> Callable[[Probe], Probe]:
    """Return the change that gives a probe its time constant."""
    return partial(_with_lag, lag)


def _with_lag(lag: TimeConstant, probe: Probe) -> Probe:
    return msgspec.structs.replace(probe, time_constant=lag)
