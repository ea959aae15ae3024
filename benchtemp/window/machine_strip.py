"""The controls of a virtual machine on the Bench: setpoint, grind, flush, idle time; Space is its pump."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.units import TempUnit, degc_from, degc_to
from benchtemp.window.fields import NumberField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.panels.mirror import FieldMirror
from benchtemp.window.plot.canvas import minutes_text
from benchtemp.window.theme import figure_width
from benchtemp.window.virtual_machine import virtual_source

if TYPE_CHECKING:
    from PySide6.QtGui import QResizeEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.readings.source import Source
    from benchtemp.readings.virtual import MachineState, VirtualSource
    from benchtemp.window.theme import Theme

_WIDEST = {"setpoint": "000.0", "grind": "000", "flush": "00.0", "idle": "00.0"}
_FRAME_PX = 18
_MARGINS_PX = 22
_USUAL_FLUSH_S, _USUAL_IDLE_MIN = 4.0, 10.0


def idle_words(state: MachineState, now_s: float) -> str:
    """Return how long no water has run, or that it runs."""
    if state.flushing:
        return "Flushing"
    if state.pump_on:
        return "Pump on"
    if state.idle_since_s is None and state.waits_until_s is None:
        return "Idle —"
    return f"Idle {minutes_text(max(0.0, now_s - (state.idle_since_s or 0.0)))}"


class MachineStrip(Panel):
    """Operates a virtual machine; takes no room without one.

    What is done is noted in the recording by the machine itself; what makes no sense is refused.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Virtual machine")
        self._source: VirtualSource | None = None
        self._state: MachineState | None = None
        self._dose_g: float | None = None
        self.setpoint = NumberField(name="setpoint", decimals=1, may_be_empty=False)
        self.grind = NumberField(name="grind size", decimals=0, may_be_empty=False)
        self.grind.setToolTip("Mean particle size in percent of the usual: less is finer and flows slower")
        self.flush = NumberField(name="flush", decimals=1, may_be_empty=False)
        self.idle = NumberField(name="idle time", decimals=1, may_be_empty=False)
        self.flush.show_value(_USUAL_FLUSH_S)
        self.idle.show_value(_USUAL_IDLE_MIN)
        self.setpoint_unit = quiet("°C")
        self.flush_button = button("Flush", name="Flush now", tip="Water without the portafilter (X)")
        self.wait_button = button("Wait to", tip="Let it stand idle for so long, its clock running fast")
        self.idle_now = QLabel()
        self.said = Sentence(name="Virtual machine")
        self._setpoint_mirror, self._grind_mirror = FieldMirror(self.setpoint), FieldMirror(self.grind)
        self._lay_out()
        self.setpoint.taken.connect(self._set_setpoint)
        self.grind.taken.connect(self._set_grind)
        self.flush.entered.connect(self.flush_now)
        self.flush_button.clicked.connect(self.flush_now)
        self.idle.entered.connect(self._wait)
        self.wait_button.clicked.connect(self._wait_or_stop)
        for field in (self.setpoint, self.grind, self.flush, self.idle):
            field.complaint.connect(self._complain)
        self.hide()

    def _lay_out(self) -> None:
        settings, deeds = QHBoxLayout(), QHBoxLayout()
        self._settings, self._deeds = settings, deeds
        for row, parts in (
            (settings, (QLabel("Setpoint"), self.setpoint, self.setpoint_unit)),
            (settings, (QLabel("Grind"), self.grind, quiet("%"))),
            (deeds, (self.flush_button, self.flush, quiet("s"))),
            (deeds, (self.idle_now, self.wait_button, self.idle, quiet("min"))),
        ):
            row.setSpacing(4)
            if row.count():
                row.addSpacing(6)
            for part in parts:
                row.addWidget(part)
        settings.addStretch(1)
        deeds.addStretch(1)
        self._rows = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._rows.setSpacing(4)
        self._rows.addLayout(settings, 1)
        self._rows.addLayout(deeds)
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 3, 8, 3)
        column.setSpacing(2)
        column.addLayout(self._rows)
        column.addWidget(self.said)

    # -- showing -------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        for press in (self.flush_button, self.wait_button):
            press.setStyleSheet("padding: 4px 8px")
        for field, widest in _WIDEST.items():
            shown: NumberField = getattr(self, field)
            shown.setFixedWidth(figure_width(shown.font(), widest) + _FRAME_PX)
        font = theme.font(figures=True)
        self.idle_now.setFont(font)
        self.idle_now.setMinimumWidth(figure_width(font, "Idle 00:00"))

    def set_unit(self, unit: TempUnit) -> None:
        """Take and show the setpoint in another unit."""
        super().set_unit(unit)
        self.setpoint_unit.setText(unit.symbol)
        self._setpoint_mirror.start_over()
        if self._source is not None:
            self._limit()
            self._show_state()

    def _limit(self) -> None:
        """Let the fields take what can be ordered."""
        from benchtemp.readings.virtual.orders import LIMITS, OrderKind  # noqa: PLC0415 - see virtual_source

        low_degc, high_degc, *_ = LIMITS[OrderKind.SETPOINT]
        self.setpoint.set_range(round(degc_to(low_degc, self.unit)), round(degc_to(high_degc, self.unit)))
        for kind, field in (
            (OrderKind.GRIND, self.grind),
            (OrderKind.FLUSH, self.flush),
            (OrderKind.IDLE, self.idle),
        ):
            low, high, *_ = LIMITS[kind]
            field.set_range(low, high)

    def follow(self, source: Source | None) -> None:
        """Operate the machine of a sitting; hide where it is none."""
        self._source = virtual_source(source)
        self._dose_g = None
        for mirror in (self._setpoint_mirror, self._grind_mirror):
            mirror.start_over()
        self.said.say("")
        if self._source is not None:
            self._limit()
            self._show_state()
        self.setVisible(self._source is not None)

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show how the machine stands, and let it be filled with the dose that is entered."""
        if self._source is None or snapshot is None:
            return
        self._take_dose(snapshot.recipe.dose_g)
        self._show_state()
        words = idle_words(self._source.state, snapshot.now_s)
        if words != self.idle_now.text():  # its accessible name is its text
            self.idle_now.setText(words)

    def _show_state(self) -> None:
        if self._source is None:
            return
        state = self._source.state
        self._setpoint_mirror.follow(round(degc_to(state.setpoint_degc, self.unit), 1))
        self._grind_mirror.follow(state.grind_percent)
        if state == self._state:
            return
        self._state = state
        if not any(field.property("wrong") for field in (self.setpoint, self.grind, self.flush, self.idle)):
            self.said.say("")  # things stand otherwise than when something was refused
        waits = state.waits_until_s is not None
        self.wait_button.setText("Stop" if waits else "Wait to")
        self.wait_button.setAccessibleName("Stop waiting" if waits else "Wait until idle")

    def _take_dose(self, dose_g: float | None) -> None:
        """Let the dose that is entered be the one in the basket."""
        if dose_g is None or dose_g == self._dose_g:
            return
        self._dose_g = dose_g
        if self._source is not None and dose_g != self._source.state.dose_g:
            self._order("DOSE", dose_g)

    # -- what the user wants -------------------------------------------------------------------------------

    def _order(self, kind: str, value: float = 0.0) -> None:
        """Hand an order on, or say why it is refused."""
        from benchtemp.readings.virtual import Order, OrderKind  # noqa: PLC0415 - not needed to paint

        if self._source is None:
            return
        try:
            self._source.order(Order(OrderKind[kind], value))
        except BadInput as error:
            self.said.say(str(error), "caution")
            return
        self.said.say("")

    @Slot(object)
    def _set_setpoint(self, value: float | None) -> None:
        if value is not None:
            self._setpoint_mirror.await_bench()
            self._order("SETPOINT", degc_from(value, self.unit))

    @Slot(object)
    def _set_grind(self, value: float | None) -> None:
        if value is not None:
            self._grind_mirror.await_bench()
            self._order("GRIND", value)

    @Slot()
    def go_to_setpoint(self) -> None:
        """Put the focus into the setpoint."""
        if self.isVisible():
            self.setpoint.setFocus()

    @Slot()
    def go_to_idle(self) -> None:
        """Put the focus into the idle time."""
        if self.isVisible():
            self.idle.setFocus()

    @Slot()
    def flush_now(self) -> None:
        """Let water run through the group for the time given, where this can be seen."""
        if self.isVisible() and self.flush.value is not None and not self.flush.property("wrong"):
            self._order("FLUSH", self.flush.value)

    @Slot()
    def _wait(self) -> None:
        if self.idle.value is not None and not self.idle.property("wrong"):
            self._order("IDLE", self.idle.value)

    @Slot()
    def _wait_or_stop(self) -> None:
        waits = self._source is not None and self._source.state.waits_until_s is not None
        if waits:
            self._order("IDLE")
        else:
            self._wait()

    @Slot(str)
    def _complain(self, sentence: str) -> None:
        self.said.say(sentence, "bad")

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take two rows where one is too narrow."""
        super().resizeEvent(event)
        needed_px = self._settings.sizeHint().width() + self._deeds.sizeHint().width() + _MARGINS_PX
        beside = QBoxLayout.Direction.LeftToRight
        direction = beside if self.width() >= needed_px else QBoxLayout.Direction.TopToBottom
        if self._rows.direction() != direction:
            self._rows.setDirection(direction)
