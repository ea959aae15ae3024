"""The guided check: cautions, source, conditions, bath, result. Nothing is saved without a yes."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QLabel, QStackedWidget, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.probes.check import DEFAULT_LIMIT_K
from benchtemp.probes.checking import ProbeCheck
from benchtemp.readings.virtual.pot import POT_DEPTH_CM, POT_PRESSURE_HPA, VirtualPot
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence
from benchtemp.window.probes_page.bath_source import BathSource, Gathered
from benchtemp.window.probes_page.bath_step import BathStep
from benchtemp.window.probes_page.caution_step import CautionStep, Method
from benchtemp.window.probes_page.conditions_step import Conditions, ConditionsStep
from benchtemp.window.probes_page.result_step import ResultStep
from benchtemp.window.probes_page.source_step import SourceStep
from benchtemp.window.probes_page.texts import now_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from PySide6.QtGui import QKeyEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.probes.check import Check
    from benchtemp.probes.probe import Probe
    from benchtemp.readings.reading import Stream
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_TITLES = (
    "cautions first",
    "where readings come from",
    "what temperature the bath has",
    "the bath",
    "what came of it",
)


class CheckView(Panel):
    """Leads through one check.

    Signals:
        left: The check is over or was given up.
        agreed: The user said yes: carries what writes it (a callable that returns the probe's name).
        under_way_changed: Whether something would be lost by beginning anew.
    """

    left = Signal()
    agreed = Signal(object)
    under_way_changed = Signal(bool)

    def __init__(self, source: BathSource, logbook: Logbook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Check of a probe")
        self._source, self._logbook = source, logbook
        self._probe = ""
        self._known: tuple[Probe, ...] = ()
        self._method = Method.BOIL
        self._channels: dict[int, str] = {}
        self._conditions: Conditions | None = None
        self._conditions_for: object = None
        self._gathered = Gathered()
        self._recordings: set[str] = set()
        self._writing: _Writing | None = None
        self.check: ProbeCheck | None = None
        self.known_channels: Callable[[], Mapping[str, str]] = dict
        self.title = QLabel()
        self.trouble = Sentence(look="bad", name="Check")
        self.caution = CautionStep()
        self.source_step = SourceStep(source)
        self.conditions = ConditionsStep()
        self.bath = BathStep()
        self.result = ResultStep()
        self._steps: tuple[Panel, ...] = (
            self.caution,
            self.source_step,
            self.conditions,
            self.bath,
            self.result,
        )
        self._stack = QStackedWidget()
        for step in self._steps:
            self._stack.addWidget(step)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 14, 10)
        column.setSpacing(8)
        column.addWidget(self.title)
        column.addWidget(self.trouble)
        column.addWidget(self._stack, 1)
        self._connect()

    def _connect(self) -> None:
        self.caution.left.connect(self._leave)
        self.caution.went_on.connect(self._to_source)
        self.source_step.left.connect(partial(self._go_to, self.caution))
        self.source_step.went_on.connect(self._to_conditions)
        self.conditions.left.connect(partial(self._go_to, self.source_step))
        self.conditions.went_on.connect(self._to_bath)
        self.bath.left.connect(self._give_bath_up)
        self.bath.taken.connect(self._to_result)
        self.result.agreed.connect(self._save)
        self.result.another_asked.connect(self._another)
        self.result.dropped.connect(self._drop)
        self._source.looked.connect(self._take_picture)
        self._source.failed.connect(self._tell_failure)
        self._source.replaced.connect(self._source_gone)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.25, bold=True))
        for step in self._steps:
            step.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        for step in self._steps:
            step.set_unit(unit)

    # -- the steps -----------------------------------------------------------------------------------------

    @property
    def step(self) -> int:
        """Return which step is shown, counted from 0."""
        return self._stack.currentIndex()

    @property
    def under_way(self) -> bool:
        """Tell whether something would be lost by beginning anew: a bath, or points not yet saved."""
        return self._stack.currentWidget() in {self.bath, self.result} or bool(self._points())

    def begin(self, probe: str, known: tuple[Probe, ...]) -> None:
        """Begin a check of a probe; one under way goes on instead."""
        if self.under_way:
            return
        self._probe, self._known = probe, known
        self.check, self._channels, self._conditions, self._conditions_for = None, {}, None, None
        self._gathered, self._recordings = Gathered(), set()
        self._go_to(self.caution)
        self.caution.begin()

    def know(self, known: tuple[Probe, ...]) -> None:
        """Take the probes anew."""
        self._known = known

    def _go_to(self, step: Panel) -> None:
        self._stack.setCurrentWidget(step)
        self.trouble.say("")
        number = self._steps.index(step)
        points = "" if self.check is None or not self._points() else f", point {self._points() + 1}"
        if step is self.result:
            points = ""
        self.title.setText(
            f"Check of {self._probe}{points}: {_TITLES[number]} ({number + 1} of {len(_TITLES)})"
        )
        for other in self._steps:
            other.setEnabled(other is step)
        self.under_way_changed.emit(self.under_way)
        if step is self.caution:
            self.caution.go_on_button.setFocus()
        elif step is self.source_step:
            self.source_step.go_on_button.setFocus()

    def _points(self) -> int:
        return 0 if self.check is None else len(self.check.points(self.check.names[0]))

    @Slot(object)
    def _to_source(self, method: Method) -> None:
        self._method = method
        self._go_to(self.source_step)
        names = tuple(probe.name for probe in self._known)
        self.source_step.begin(
            method, self._probe, names, self.known_channels(), fixed=self._channels if self.check else None
        )

    @Slot(object)
    def _to_conditions(self, channels: dict[int, str]) -> None:
        self._channels = channels
        self._go_to(self.conditions)
        operator, limit_k, values = self._last_conditions()
        choice = self._source.choice
        if choice is not self._conditions_for:
            self._conditions_for = choice
            self.conditions.forget()
        if choice is not None and isinstance(choice.source, VirtualPot):
            values = {"pressure": f"{POT_PRESSURE_HPA:g}hPa", "depth": f"{POT_DEPTH_CM:g}cm"}
        if self._conditions is not None:
            operator, limit_k = self._conditions.operator, self._conditions.limit_k
        self.conditions.begin(self._method, values=values, operator=operator, limit_k=limit_k)

    def _last_conditions(self) -> tuple[str, float, dict[str, str]]:
        """Return operator, limit and altitude of the last check there is, the same probe's first."""
        checks = [check for probe in self._known for check in probe.checks]
        own = next((probe for probe in self._known if probe.name == self._probe), None)
        if not checks:
            return "", DEFAULT_LIMIT_K, {}
        last = max(checks, key=lambda check: check.when)
        limit_k = own.checks[-1].limit_k if own is not None and own.checks else last.limit_k
        values = {}
        written = last.conditions.get("altitude", "").split(" m ")
        if len(written) == 2:
            values["altitude"] = f"{written[0]}m"
        return last.operator, limit_k, values

    @Slot(object)
    def _to_bath(self, conditions: Conditions) -> None:
        self._conditions = conditions
        try:
            if self.check is None:
                self.check = ProbeCheck(self._channels, limit_k=conditions.limit_k)
            self.check.limit_k = conditions.limit_k
        except BadInput as error:
            self.trouble.say(str(error))
            return
        self._go_to(self.bath)
        self._gathered.begin(self._source.snapshot, self._source.choice)
        self._recordings.add(self._source.recording)
        self.bath.begin(self.check, conditions.reference, tuple(self._channels), conditions.altitude_m)

    @Slot()
    def _give_bath_up(self) -> None:
        self.bath.end()
        self._go_to(self.result if self._points() else self.conditions)

    @Slot()
    def _to_result(self) -> None:
        assert self.check is not None
        assert self._conditions is not None
        self._writing = None
        self._go_to(self.result)
        self.result.begin(
            self.check, checked=now_text(), operator=self._conditions.operator, known=self._known
        )

    @Slot()
    def _another(self) -> None:
        other = {Method.BOIL: Method.ICE, Method.ICE: Method.BOIL}.get(self._method)
        self._go_to(self.caution)
        self.caution.begin(other)

    @Slot()
    def _drop(self) -> None:
        self.check = None
        self._leave()

    def leave(self) -> None:
        """Leave what was begun, unless something would be lost by it."""
        if not self.under_way:
            self._source.end()
            self._stack.setCurrentWidget(self.caution)

    @Slot()
    def _leave(self) -> None:
        if self._points():  # a further point was not wanted after all: back to what there is
            self._go_to(self.result)
            return
        self.check = None
        self.bath.end()
        self._source.end()
        self._stack.setCurrentWidget(self.caution)
        self.under_way_changed.emit(False)  # noqa: FBT003 - a signal's argument
        self.left.emit()

    # -- readings ------------------------------------------------------------------------------------------

    @Slot(object)
    def _take_picture(self, snapshot: Snapshot) -> None:
        if not self.bath.running:
            return
        self.bath.take_readings(self._gathered.take(snapshot), snapshot)

    @Slot(str)
    def _tell_failure(self, sentence: str) -> None:
        if self.bath.running:
            self.bath.give_up(sentence)

    @Slot()
    def _source_gone(self) -> None:
        if self.bath.running:
            self.bath.give_up(
                "The source was closed or another one opened; give the bath up and begin again."
            )

    # -- saving --------------------------------------------------------------------------------------------

    @Slot(object)
    def _save(self, checks: dict[str, Check]) -> None:
        if self._writing is None:
            # One recording of the sitting holds all baths already, or none and they get one of their own.
            kept = next(iter(self._recordings)) if len(self._recordings) == 1 else ""
            self._writing = _Writing(self._logbook, kept, None if kept else self._gathered.stream())
        self._writing.checks = checks
        self.result.setEnabled(False)
        self.agreed.emit(self._writing)

    def saved(self) -> None:
        """Take note that all was written: the check is over."""
        self.check = None
        self._leave()

    def not_saved(self, sentence: str) -> None:
        """Take note that it was not: the result stays, to be tried again or set aside."""
        self.result.setEnabled(True)
        self.result.complaint.say(sentence)
        self.result.save_button.setFocus()

    # -- keys ----------------------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go a step back with Esc, where nothing is lost by it."""
        step = self._stack.currentWidget()
        if event.key() != Qt.Key.Key_Escape or step in {self.bath, self.result}:
            event.ignore()
        elif step is self.caution:
            self._leave()
        elif step is self.source_step:
            self.source_step.go_back()
        else:
            self._go_to(self.source_step)

    def close_down(self) -> None:
        """Let go of sources and threads, for good."""
        self.bath.end()
        self.source_step.end()


class _Writing:
    """Keeps readings and checks; where the disk refuses midway, it goes on from there at the next try.

    Returns the first probe's name when called.

    Attributes:
        checks: What the user said yes to, by probe.

    Raises:
        StorageError: The disk does not take them.
        BadInput: A probe's file is damaged.
    """

    def __init__(self, logbook: Logbook, kept: str, stream: Stream | None) -> None:
        """Prepare.

        Args:
            logbook: Where they go.
            kept: Name of the recording that holds the readings already, empty where none does.
            stream: The readings, where they are to be kept.
        """
        self._logbook, self._kept, self._stream = logbook, kept, stream
        self.checks: dict[str, Check] = {}

    def __call__(self) -> str:
        from benchtemp.logbook.check_trace import keep_check_trace  # noqa: PLC0415 - rarely needed
        from benchtemp.logbook.probe_file import change_probe  # noqa: PLC0415 - rarely needed

        first = next(iter(self.checks))
        if self._stream is not None:
            self._kept = keep_check_trace(self._logbook, first, self._stream).name
            self._stream = None
        for name, made in self.checks.items():
            check = msgspec.structs.replace(made, recording=self._kept)
            change_probe(self._logbook, name, partial(_with, check))
        return first


def _with(check: Check, probe: Probe) -> Probe:
    """Return a probe with a check, once: it may be there from a try that failed later on."""
    if any(old.checked == check.checked for old in probe.checks):
        return probe
    return probe.with_check(check)
